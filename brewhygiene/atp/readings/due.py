"""Which clean a sample belongs to, at which moment it is taken, and whether it can be now."""

import dataclasses
from datetime import datetime

from django.db.models import QuerySet

from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.cellar.moments import DURING_THE_CLEAN, SamplingMoment
from brewhygiene.regimes.models import Quantity, Step, StepKind
from brewhygiene.turnarounds.models import Clean, StepRecord, Turnaround
from brewhygiene.turnarounds.models.deviations import Deviation, DeviationKind
from brewhygiene.turnarounds.moments import EndedStep, moment_of
from brewhygiene.turnarounds.progress import is_outside, latest_readings


def _is_of(point: SamplingPoint, moment: SamplingMoment) -> bool:
    """Whether a point is sampled at a moment of a running clean; at any, where it states none."""
    return (
        point.moment in (moment, SamplingMoment.UNKNOWN)
        or {point.moment, moment} <= DURING_THE_CLEAN
    )


@dataclasses.dataclass(frozen=True)
class ToSample:
    """The clean that a sample taken now belongs to, or ``None``: a running one whose sample step
    is on, or has ended without its samples and nothing was decided or begun since; else the
    latest finished one.

    ``not_now`` is why no sample can be taken, as a code (``closed``, ``clean_running``,
    ``rinse_not_read``, ``rinse_too_warm``, ``not_cleaned``, ``clean_stopped``) and in words;
    ``moment`` is that of a sample taken now, ``since`` the earliest time that it can have been
    taken at, ``step`` the sample step, ``missed`` its attempt that has ended without.
    """

    clean: Clean | None
    not_now: tuple[str, str] | None
    moment: SamplingMoment = SamplingMoment.UNKNOWN
    since: datetime | None = None
    step: Step | None = None
    missed: StepRecord | None = None

    @property
    def can_be_taken(self) -> bool:
        return self.clean is not None and self.not_now is None

    def is_for(self, point: SamplingPoint) -> bool:
        """Whether a point is to be sampled now; at a sample step only those of its moment are.

        One whose moment is not stated is sampled whenever it can be.
        """
        return self.step is None or _is_of(point, self.moment)


def to_sample(turnaround: Turnaround) -> ToSample:
    """What a sample of a turnaround counts for now. 2 queries, 7 at most while a clean runs."""
    cleans = list(turnaround.cleans.select_related("version__regime").order_by("pk"))
    for each in cleans:
        each.turnaround = turnaround
    latest = cleans[-1] if cleans else None
    if latest is not None and latest.running and turnaround.closed_at is None:
        at_step = _at_sample_step(latest)
        if at_step is not None:
            return at_step
    finished = [(each.finished_at, each.pk, each) for each in cleans if each.finished_at]
    clean = max(finished, key=lambda one: one[:2])[2] if finished else None
    return ToSample(
        clean=clean,
        not_now=_not_now(turnaround, latest),
        moment=moment_of(_ended(_records(clean)), ()) if clean else SamplingMoment.UNKNOWN,
        since=clean.finished_at if clean else None,
    )


def _records(clean: Clean) -> list[StepRecord]:
    return list(clean.step_records.select_related("step").order_by("pk"))


def _ended(records: list[StepRecord]) -> list[EndedStep]:
    return [
        EndedStep(record.step.kind, record.end_criterion_met)
        for record in records
        if record.ended_at is not None and not record.left_out
    ]


def _at_sample_step(clean: Clean) -> ToSample | None:
    """A running clean: sampled while its sample step is on, or still owes its samples.

    Else ``None``. 1 query, 5 at most then.
    """
    records = _records(clean)
    latest = records[-1] if records else None
    if latest is None or latest.step.kind != StepKind.SAMPLE:
        return None
    if latest.ended_at is not None and not missed_at(latest).exists():
        return None
    return ToSample(
        clean=clean,
        not_now=_not_cool(latest),
        moment=_moment_at(latest, records),
        since=latest.started_at,
        step=latest.step,
        missed=latest if latest.ended_at is not None else None,
    )


def missed_at(record: StepRecord) -> QuerySet[Deviation]:
    """That an attempt at a sample step ended without its samples, while nothing is decided."""
    return record.deviations.filter(kind=DeviationKind.NOT_SAMPLED, disposition="")


def _moment_at(at_step: StepRecord, records: list[StepRecord]) -> SamplingMoment:
    """The moment of a sample step: after what ended before it, with what comes later. 1 query."""
    later = Step.objects.filter(version=at_step.step.version_id, order__gt=at_step.step.order)
    before = [record for record in records if record.pk < at_step.pk]
    return moment_of(_ended(before), list(later.values_list("kind", flat=True)))


def required_unsampled(at_step: StepRecord) -> list[str]:
    """Required points of a sample step's moment without a reading of its clean. 4 queries."""
    clean = at_step.clean
    moment = _moment_at(at_step, _records(clean))
    read = set(Result.objects.filter(clean=clean).values_list("point_id", flat=True))
    points = SamplingPoint.objects.filter(
        vessel=clean.turnaround.vessel_id, required_for_release=True, active=True
    ).order_by("order", "pk")
    return [point.name for point in points if _is_of(point, moment) and point.pk not in read]


def _running_words(clean: Clean) -> str:
    step = Step.objects.filter(version=clean.version_id, kind=StepKind.SAMPLE)
    when = "at its sample step, or when it has ended" if step.exists() else "when it has ended"
    return f"The clean is still running. Take samples {when}."


def _not_cool(record: StepRecord) -> tuple[str, str] | None:
    """Whether the rinse's temperature still has to be read, or to fall. 2 queries."""
    if record.step.window(Quantity.TEMPERATURE_C) is None:
        return None
    reading = latest_readings(record).get(Quantity.TEMPERATURE_C)
    if reading is None:
        return (
            "rinse_not_read",
            "The temperature of the rinse is not read yet. Read it at the sample step first.",
        )
    if is_outside(reading):
        return (
            "rinse_too_warm",
            f"The rinse read {reading.typed}, outside its window. Let it cool, then read it again.",
        )
    return None


def _not_now(turnaround: Turnaround, latest: Clean | None) -> tuple[str, str] | None:
    name = turnaround.vessel.name
    if turnaround.closed_at is not None:
        return "closed", f"{name} has been filled since, so this turnaround is closed."
    if latest is None:
        return "not_cleaned", f"{name} has not been cleaned since it was emptied. Clean it first."
    if latest.running:
        return "clean_running", _running_words(latest)
    if latest.stopped_at is not None:
        return "clean_stopped", f"The last clean of {name} was stopped. Clean it again first."
    return None
