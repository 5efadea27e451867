"""What a release record holds, as plain data: the page of paper is drawn from this."""

import dataclasses
import zoneinfo
from collections.abc import Sequence
from datetime import datetime

from brewhygiene.atp.models.causes import FoundCause
from brewhygiene.atp.models.readings import Result
from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature, User
from brewhygiene.plates.growth import Growth
from brewhygiene.plates.models import Plate
from brewhygiene.release.models import Decision
from brewhygiene.release.queries import Dossier
from brewhygiene.turnarounds.models import (
    Clean,
    Deviation,
    LoggerFile,
    SafetyAcknowledgement,
    StepReading,
    StepRecord,
    Turnaround,
)
from brewhygiene.turnarounds.progress import StepProgress, is_outside


@dataclasses.dataclass(frozen=True)
class Headline:
    """What the record says first; ``draft`` runs across every page while nobody has signed."""

    code: str  # of its shape
    word: str
    text: str
    decision: Decision | None = None
    draft: str = ""


@dataclasses.dataclass(frozen=True)
class ReadingLine:
    """One reading against its window."""

    reading: StepReading
    shown: str
    window: str
    method: str
    corrected_by: StepReading | None = None

    @property
    def verdict(self) -> str:
        return self.reading.verdict.replace("_", " ")


@dataclasses.dataclass(frozen=True)
class Attempt:
    """One attempt at a step."""

    record: StepRecord
    minutes: float | None
    prolongs: int | None
    acknowledgements: Sequence["Acknowledged"]
    readings: Sequence[ReadingLine]
    deviations: Sequence["DeviationLine"]


@dataclasses.dataclass(frozen=True)
class DeviationLine:
    """A deviation; ``void`` once the reading that it was found by has been corrected."""

    deviation: Deviation
    void: bool


@dataclasses.dataclass(frozen=True)
class Acknowledged:
    """Safety checks acknowledged at once, by their titles."""

    acknowledgement: SafetyAcknowledgement
    titles: Sequence[str]


@dataclasses.dataclass(frozen=True)
class StepPart:
    """One step with its attempts; ``pending`` are checks acknowledged for an attempt to come."""

    progress: StepProgress
    attempts: Sequence[Attempt]
    pending: Sequence[Acknowledged]
    not_read: Sequence[str]  # windows of a step that has no attempt yet, in words


@dataclasses.dataclass(frozen=True)
class CleanPart:
    """One clean, numbered within its turnaround."""

    number: int
    clean: Clean
    steps: Sequence[StepPart]
    samples: Sequence["SampleGroup"]
    logger_files: Sequence[LoggerFile]

    @property
    def results(self) -> list["SampleLine"]:
        return [line for group in self.samples for line in group.lines]


@dataclasses.dataclass(frozen=True)
class SampleLine:
    """One result, numbered within its turnaround."""

    number: int
    result: Result
    corrects: int | None
    corrected_by: int | None
    retest_of: int | None


@dataclasses.dataclass(frozen=True)
class SampleGroup:
    """Results of one clean read by the same means: meter, control check, sticks, limits."""

    first: Result
    checked_by: str
    lines: Sequence[SampleLine]


@dataclasses.dataclass(frozen=True)
class Correction:
    """An old value and the new one that names it; both stay on record."""

    what: str
    old: str
    new: str
    reason: str
    who: User
    at: datetime
    signature: Signature | None = None


@dataclasses.dataclass(frozen=True)
class GateLine:
    """A gate as it stood when somebody decided."""

    title: str
    answer: str
    evidence: Sequence[str]
    reason: str
    waived: bool


@dataclasses.dataclass(frozen=True)
class DecisionPart:
    """A decision with every gate as it stood then."""

    decision: Decision
    clean_number: int | None
    gates: Sequence[GateLine]


@dataclasses.dataclass(frozen=True)
class PlatePart:
    """A plate, what its dishes say in CFU, and the signature that closed it."""

    plate: Plate
    growth: Growth | None
    signature: Signature | None


@dataclasses.dataclass(frozen=True)
class Wording:
    """The full text of a safety check, as it was shown to those who acknowledged it."""

    title: str
    text: str


@dataclasses.dataclass(frozen=True)
class ReleaseRecord:
    """Everything that a release record says."""

    brewery: Brewery
    dossier: Dossier
    now: datetime
    zone: zoneinfo.ZoneInfo
    headline: Headline
    cleans: Sequence[CleanPart]
    corrections: Sequence[Correction]
    decisions: Sequence[DecisionPart]
    gates_now: Sequence[GateLine]
    plates: Sequence[PlatePart]
    causes: Sequence[FoundCause]
    wordings: Sequence[Wording]
    entries: Sequence[Entry]
    broken_entries: Sequence[int]

    @property
    def turnaround(self) -> Turnaround:
        return self.dossier.turnaround

    @property
    def readings(self) -> list[ReadingLine]:
        return [
            line
            for clean in self.cleans
            for step in clean.steps
            for attempt in step.attempts
            for line in attempt.readings
        ]

    @property
    def outside_count(self) -> int:
        """Standing readings outside their window."""
        return sum(line.corrected_by is None and is_outside(line.reading) for line in self.readings)

    @property
    def deviations(self) -> list[Deviation]:
        return [d for c in self.dossier.cleans for item in c.steps for d in item.deviations]

    @property
    def open_deviations(self) -> list[Deviation]:
        return [deviation for deviation in self.deviations if not deviation.disposition]

    @property
    def self_released(self) -> bool:
        return any(decision.self_release for decision in self.dossier.decisions)
