"""Which clean a sample belongs to, and whether one can be taken now."""

import dataclasses

from django.db.models import Exists, OuterRef

from brewhygiene.atp.models.readings import SampleStage
from brewhygiene.regimes.models import Step, StepKind
from brewhygiene.turnarounds.models import Clean, Turnaround


@dataclasses.dataclass(frozen=True)
class ToSample:
    """The clean that a sample taken now belongs to: the latest finished one, or ``None``.

    ``not_now`` is why no sample can be taken, as a code (``closed``, ``clean_running``,
    ``not_cleaned``, ``clean_stopped``) and in words; ``sanitised`` whether the clean has a
    sanitiser step.
    """

    clean: Clean | None
    not_now: tuple[str, str] | None
    sanitised: bool = False

    @property
    def usual_stage(self) -> str:
        """Where a sample of it is usually taken."""
        return SampleStage.AFTER_SANITISER if self.sanitised else SampleStage.AFTER_RINSE

    @property
    def stages(self) -> list[tuple[str, str]]:
        """Where a sample of it can have been taken."""
        if self.sanitised:
            return list(SampleStage.choices)
        return [(SampleStage.AFTER_RINSE.value, SampleStage.AFTER_RINSE.label)]


def to_sample(turnaround: Turnaround) -> ToSample:
    """What a sample of a turnaround counts for now. 1 query."""
    sanitiser = Step.objects.filter(version=OuterRef("version"), kind=StepKind.SANITISER)
    cleans = list(
        turnaround.cleans.select_related("version__regime")
        .annotate(has_sanitiser=Exists(sanitiser))
        .order_by("pk")
    )
    for each in cleans:
        each.turnaround = turnaround
    finished = [(each.finished_at, each.pk, each) for each in cleans if each.finished_at]
    clean = max(finished, key=lambda one: one[:2])[2] if finished else None
    return ToSample(
        clean=clean,
        not_now=_not_now(turnaround, cleans[-1] if cleans else None),
        sanitised=clean is not None and clean.has_sanitiser,  # type: ignore[attr-defined]
    )


def _not_now(turnaround: Turnaround, latest: Clean | None) -> tuple[str, str] | None:
    name = turnaround.vessel.name
    if turnaround.closed_at is not None:
        return "closed", f"{name} has been filled since, so this turnaround is closed."
    if latest is None:
        return "not_cleaned", f"{name} has not been cleaned since it was emptied. Clean it first."
    if latest.running:
        return "clean_running", "The clean is still running. Take samples when it has ended."
    if latest.stopped_at is not None:
        return "clean_stopped", f"The last clean of {name} was stopped. Clean it again first."
    return None
