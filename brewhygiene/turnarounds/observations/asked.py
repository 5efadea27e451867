"""Which observations a step asks for at its end, and what was answered."""

import dataclasses
from collections.abc import Iterable
from typing import Any

from brewhygiene.cellar.models import VesselKind
from brewhygiene.regimes.models import Step, StepKind
from brewhygiene.turnarounds.models import Clean, StepRecord
from brewhygiene.turnarounds.models.observations import Observation

# What has an outlet at its lowest point; a line, a hose or a keg is emptied otherwise.
TANKS = frozenset(
    {
        VesselKind.FERMENTER,
        VesselKind.BRIGHT_TANK,
        VesselKind.MIXING_TANK,
        VesselKind.LIQUOR_TANK,
        VesselKind.YEAST_VESSEL,
        VesselKind.SERVING_TANK,
        VesselKind.DRY_HOP_GEAR,
    }
)

# A no in words; a yes is the observation's own label.
NO_WORDS: dict[str, str] = {
    Observation.LOOKS_CLEAN: "does not look clean",
    Observation.SMELLS_CLEAN: "does not smell clean",
    Observation.DRAINS_FREE: "does not drain free",
}


def asked_observations(clean: Clean, step: Step) -> tuple[Observation, ...]:
    """What is looked for at the end of a step; none in most.

    Hand-cleaned parts are looked at, the last rinse is looked at and smelt, a tank is seen to
    drain. Common practice, no source. Reads prefetched steps.
    """
    if step.kind == StepKind.HAND_CLEAN:
        return (Observation.LOOKS_CLEAN,)
    if step.kind == StepKind.RINSE:
        later = (other for other in clean.version.steps.all() if other.order > step.order)
        if any(other.kind == StepKind.RINSE for other in later):
            return ()
        return (Observation.LOOKS_CLEAN, Observation.SMELLS_CLEAN)
    if step.kind == StepKind.DRAIN and clean.turnaround.vessel.kind in TANKS:
        return (Observation.DRAINS_FREE,)
    return ()


def words_of(observation: str, *, yes: bool, note: str = "") -> str:
    """An answer in words, as 'does not look clean: film at the cone'."""
    words = str(Observation(observation).label) if yes else NO_WORDS[observation]
    return f"{words}: {note}" if note else words


@dataclasses.dataclass(frozen=True)
class Observed:
    """One answer as a page shows it: who gave it with which record, and its photograph."""

    record: StepRecord
    yes: bool
    words: str
    photo: dict[str, Any] | None

    @property
    def photo_pk(self) -> int | None:
        return self.photo["id"] if self.photo else None

    @property
    def print_words(self) -> str:
        """Its words, and the hash of its photograph, where there is one."""
        return f"{self.words} (photo, SHA-256 {self.photo['sha256']})" if self.photo else self.words


def observed_in(records: Iterable[StepRecord]) -> list[Observed]:
    """What was answered at the ends of attempts, in the order in which it was asked. 0 queries."""
    return [
        Observed(
            record=record,
            yes=kept["yes"],
            words=words_of(kept["observation"], yes=kept["yes"], note=kept["note"]),
            photo=kept["photo"],
        )
        for record in records
        for kept in record.observations or ()
    ]
