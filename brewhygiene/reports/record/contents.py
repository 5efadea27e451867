"""What a release record contains, as plain data: the page of paper is drawn from this."""

import dataclasses
import zoneinfo
from collections.abc import Sequence
from datetime import datetime

from django.utils import timezone

from brewhygiene.atp.models.causes import FoundCause
from brewhygiene.atp.models.readings import Result
from brewhygiene.batches.brews.queries import Contents
from brewhygiene.batches.corrections.signed import Corrected
from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.check.record import RecordCheck
from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.rows.shown import Key
from brewhygiene.people.models import Signature, User
from brewhygiene.plates.growth import Growth
from brewhygiene.plates.models import Plate
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.quantities.style import shown_moment
from brewhygiene.quantities.words import minutes_words
from brewhygiene.release.models import Decision
from brewhygiene.release.powers.rules import rules_in_force
from brewhygiene.release.queries import Dossier
from brewhygiene.reports.heads import PrintedHead
from brewhygiene.reports.record.materials import Allowed
from brewhygiene.reports.record.words import moment_words, person_words
from brewhygiene.turnarounds.models import (
    Clean,
    LoggerFile,
    SafetyAcknowledgement,
    StepReading,
    StepRecord,
    Turnaround,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.models.entries import EntryPermit
from brewhygiene.turnarounds.observations.asked import Observed, observed_in
from brewhygiene.turnarounds.progress import StepProgress, is_outside

STATES = {
    "done": "done",
    "left_out": "left out",
    "running": "running when printed",
    "deviation": "deviation not decided",
    "again": "to be repeated",
}


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


def _drew_words(log: StepRecord) -> str:
    """What an attempt ran on, and its solution as it was last read at its start; '' for nothing."""
    words = f". On {log.gear_words}" if log.gear else ""
    if log.made_fresh:
        words += ", solution made up fresh"
    if log.solution_words:
        words += f". Solution from {log.solution_words}"
    if log.solution_reason:
        words += f", past its dump rule: {log.solution_reason}"
    return words


@dataclasses.dataclass(frozen=True)
class Attempt:
    """One attempt at a step."""

    record: StepRecord
    minutes: float | None
    contact: str  # contact time in words, '' where the step asks for none
    prolongs: int | None
    acknowledgements: Sequence["Acknowledged"]
    readings: Sequence[ReadingLine]
    deviations: Sequence["DeviationLine"]
    one_of: int
    end: str  # the step's end criterion in words

    @property
    def observed(self) -> list[Observed]:
        """What was observed at its end."""
        return observed_in([self.record])

    @property
    def words(self) -> str:
        """When, by whom and how it ended, in the active time zone."""
        log = self.record
        by = person_words(log.started_by)
        if log.left_out:
            return f"Left out {moment_words(log.started_at)} by {by}: {log.note}"
        words = moment_words(log.started_at)
        if self.one_of > 1:
            prolongs = f", prolongs attempt {self.prolongs}" if self.prolongs else ""
            words = f"Attempt {log.attempt}{prolongs}: {words}"
        if log.ended_at is None or self.minutes is None:
            words += f", started by {by}, running"
        else:
            if log.started_by_id != log.ended_by_id:
                by = f"{by}, ended by {person_words(log.ended_by)}"
            words += f" to {shown_moment(timezone.localtime(log.ended_at), 'H:i')} "
            source = ValueSource.STATED if log.stated_at else ValueSource.SERVER_TIMER
            words += f"({minutes_words(self.minutes)}, {source.label}), by {by}"
        if self.contact:
            words += f". {self.contact.capitalize()}"
        for loss in log.flow_losses.all():
            back = (
                shown_moment(timezone.localtime(loss.back_at), "H:i") if loss.back_at else "the end"
            )
            words += (
                f". Flow lost {shown_moment(timezone.localtime(loss.lost_at), 'H:i')} to {back}"
            )
        if log.end_criterion_met is not None:
            reached = "reached" if log.end_criterion_met else "not reached"
            words += f". End, {self.end}: {reached}"
        if log.outflow:
            words += f". Went {log.get_outflow_display()}"
        words += _drew_words(log)
        lot = f". Agent lot {log.agent_lot}" if log.agent_lot else ""
        note = f". Note: {log.note}" if log.note else ""
        return f"{words}{lot}{note}"


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

    @property
    def state_words(self) -> str:
        """How the step stood when this was printed."""
        return STATES.get(self.progress.state, "not run")


@dataclasses.dataclass(frozen=True)
class CleanPart:
    """One clean, numbered within its turnaround."""

    number: int
    clean: Clean
    steps: Sequence[StepPart]
    samples: Sequence["SampleGroup"]
    logger_files: Sequence[LoggerFile]
    allowed: Sequence[Allowed]

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
    without_control: bool = False  # no passed control check before and after it
    late: bool = False  # after the sample step of its clean


@dataclasses.dataclass(frozen=True)
class SampleGroup:
    """Results of one clean read by the same means: meter, control check, ATP tests, limits."""

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
    same_words: bool = False  # as an earlier decision of the same person


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

    @property
    def seen(self) -> str:
        """What grew, in words; '' for nothing or not read."""
        if self.growth is not None:
            return self.growth.words
        return self.plate.colony_words if self.plate.state == "positive" else ""


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
    materials: Sequence[str]
    corrections: Sequence[Correction]
    decisions: Sequence[DecisionPart]
    gates_now: Sequence[GateLine]
    plates: Sequence[PlatePart]
    causes: Sequence[FoundCause]
    permits: Sequence[EntryPermit]
    batch_before: Contents | None  # of the fill that was emptied
    batch: Contents | None  # of the fill that closed the turnaround
    filling_corrected: Corrected
    wordings: Sequence[Wording]
    entries: Sequence[Entry]
    shown: frozenset[Key]  # every bound row that it is made from
    check: RecordCheck
    head: PrintedHead

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

    @property
    def by_two(self) -> int:
        """How many decisions two people signed."""
        return sum(decision.second_signature is not None for decision in self.dossier.decisions)

    @property
    def rules(self) -> list[str]:
        """The release rules in force when this was printed."""
        return rules_in_force(self.brewery)
