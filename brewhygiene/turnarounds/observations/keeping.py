"""How what was observed is checked and kept: parts of the actions that end a step."""

import dataclasses
import hashlib
import secrets
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.core.files.base import ContentFile

from brewhygiene.ledger.recording import Actor
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import EndCriterion, Step
from brewhygiene.turnarounds.models import Clean, StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation, DeviationKind
from brewhygiene.turnarounds.models.observations import Observation, StepPhoto
from brewhygiene.turnarounds.observations.asked import asked_observations, words_of

LONGEST_NOTE = 120


@dataclasses.dataclass(frozen=True)
class Seen:
    """An answer as it is given; ``yes`` is ``None`` while nothing was chosen.

    ``photo`` comes from ``cellar.photos.files.prepared_photo``.
    """

    observation: str
    yes: bool | None
    note: str = ""
    photo: "ContentFile[bytes] | None" = None


def note_field(observation: str) -> str:
    """The field of an observation's note, whose answer stands in a field of its own name."""
    return f"{observation}_note"


def checked_observations(
    clean: Clean, step: Step, given: Sequence[Seen], *, end_criterion_met: bool | None
) -> list[Seen]:
    """One answer to each observation that a step asks for; refuses what is missing or more."""
    asked = asked_observations(clean, step)
    answers = {seen.observation: seen for seen in given}
    if len(given) > len(answers) or set(answers) - set(asked):
        raise Refusal("This step does not ask for that observation.", code="not_asked")
    for observation in asked:
        answer = answers.get(observation)
        if answer is None or answer.yes is None:
            raise Refusal(
                f"Choose Yes or No: {observation.label}.", field=observation, code="not_observed"
            )
        if not answer.yes and not answer.note.strip():
            raise Refusal(
                "Enter what you found.", field=note_field(observation), code="no_without_note"
            )
    looks = answers.get(Observation.LOOKS_CLEAN)
    inspected = step.end_criterion == EndCriterion.INSPECTED and end_criterion_met
    if inspected and looks is not None and not looks.yes:
        raise Refusal(
            "You chose No for “looks clean”, so the end was not reached. Choose No here too.",
            field="end_criterion_met",
            code="end_contradicted",
        )
    return [answers[observation] for observation in asked]


def _kept_photo(
    record: StepRecord, seen: Seen, photo: "ContentFile[bytes]", by: Actor, at: datetime
) -> dict[str, Any]:
    content = photo.read()
    kept = StepPhoto(
        record=record,
        observation=seen.observation,
        taken_at=at,
        taken_by=by.person,
    )
    kept.photo.save(f"{secrets.token_hex(8)}.jpg", ContentFile(content), save=True)
    return {"id": kept.pk, "sha256": hashlib.sha256(content).hexdigest()}


def keep_photos(
    record: StepRecord, seen: Sequence[Seen], *, by: Actor, at: datetime
) -> list[dict[str, Any]]:
    """The answers of ``at`` as a record keeps them, their photographs stored."""
    return [
        {
            "observation": one.observation,
            "yes": bool(one.yes),
            "note": one.note.strip()[:LONGEST_NOTE],
            "photo": None if one.photo is None else _kept_photo(record, one, one.photo, by, at),
        }
        for one in seen
    ]


def name_what_is_not_clean(record: StepRecord, *, by: Actor) -> None:
    """Every no is a deviation of its own."""
    for kept in record.observations or ():
        if kept["yes"]:
            continue
        words = words_of(kept["observation"], yes=False, note=kept["note"])
        Deviation.objects.create(
            record=record,
            kind=DeviationKind.OBSERVED,
            description=f"{words[0].upper()}{words[1:]}",
            found_at=by.now,
        )
