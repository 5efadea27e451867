"""What waits for a person, as the numbers beside the places, and the vessels to be sampled."""

import dataclasses
from collections.abc import Callable, Sequence
from datetime import datetime

from django.db.models import Q
from django.utils import timezone

from brewhygiene.atp.readings.queries import meters_today
from brewhygiene.board.next_step import NextStep, next_step
from brewhygiene.cellar.models import Vessel
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.quantities.sorting import natural_key
from brewhygiene.release.queries import VesselState, states_of
from brewhygiene.release.standing.clocks import missing_points
from brewhygiene.release.status import Code


@dataclasses.dataclass(frozen=True)
class ToSample:
    """A cleaned vessel with required points that nobody has sampled yet."""

    name: str
    kind: str
    turnaround_pk: int
    points: Sequence[str]
    due_at: datetime | None
    late: bool
    next: NextStep


def _states(now: datetime) -> list[VesselState]:
    """Vessels that are on their way from emptied to filled. 7 queries."""
    return states_of(
        Vessel.objects.filter(turnarounds__closed_at__isnull=True, turnarounds__isnull=False),
        now=now,
    )


def vessels_to_sample(*, may: Callable[[str], bool], now: datetime) -> list[ToSample]:
    """Vessels whose status is *to sample*, what is due soonest first. 7 queries."""
    found = []
    for state in _states(now):
        facts, turnaround = state.facts.turnaround, state.turnaround
        if state.status.code != Code.TO_SAMPLE or facts is None or turnaround is None:
            continue
        found.append(
            ToSample(
                name=state.vessel.name,
                kind=state.vessel.get_kind_display(),
                turnaround_pk=turnaround.pk,
                points=missing_points(state.facts, facts),
                due_at=state.status.due_at,
                late=state.status.overdue(now),
                next=next_step(state, may=may, now=now),
            )
        )
    return sorted(found, key=lambda one: (one.due_at or now, natural_key(one.name)))


def waiting_for(*, may: Callable[[str], bool], now: datetime) -> dict[str, int]:
    """How much waits at each place for somebody who may do something about it. 10 queries at most.

    ``sample``: vessels to sample; ``release``: vessels to decide; ``plates``: plates due to be
    read and open positive ones; ``atp``: meters without a passed control check today.
    """
    day = timezone.localdate(now)
    found: dict[str, int] = {}
    if may("work_cellar") or may("decide_release"):
        codes = [state.status.code for state in _states(now)]
        if may("work_cellar"):
            found["sample"] = codes.count(Code.TO_SAMPLE)
        if may("decide_release"):
            found["release"] = codes.count(Code.TO_DECIDE)
    if may("work_cellar"):
        found["atp"] = sum(not meter.ready for meter in meters_today(day))
    if may("read_plates"):
        due = Q(state=PlateState.PENDING, due_on__lte=day)
        open_positive = Q(state=PlateState.POSITIVE, resolved_at__isnull=True)
        found["plates"] = Plate.objects.filter(due | open_positive).count()
    return found
