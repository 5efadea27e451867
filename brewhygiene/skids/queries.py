"""Reads of skids, tanks and solutions that more than one caller needs."""

from collections.abc import Collection, Sequence
from datetime import datetime

from django.db.models import Max, Prefetch, QuerySet

from brewhygiene.regimes.models import Agent
from brewhygiene.skids.models import GearRinse, Skid, SkidKind, Solution, SolutionTank
from brewhygiene.skids.questions import uses_of
from brewhygiene.skids.state import SolutionState


def skids_in_use() -> QuerySet[Skid]:
    """Skids and hoses that a clean may run on. 1 query."""
    return Skid.objects.filter(active=True)


def skids_for_setup() -> QuerySet[Skid]:
    """Every skid and hose with its tanks, those retired last. 2 queries."""
    tanks = SolutionTank.objects.order_by("-active", "sort_key")
    return Skid.objects.order_by("-active", "sort_key").prefetch_related(
        Prefetch("skid_tanks", queryset=tanks)
    )


def solutions() -> QuerySet[Solution]:
    """Solutions with what their states are made from. 3 queries."""
    return Solution.objects.select_related(
        "tank__skid", "agent", "made_by", "dumped_by"
    ).prefetch_related("solution_checks__taken_by", "solution_top_ups__added_by")


def standing_solutions(skid: Skid) -> QuerySet[Solution]:
    """What the tanks of a skid contain now. At most 5 queries."""
    return solutions().filter(tank__skid=skid, dumped_at__isnull=True).order_by("tank__sort_key")


def states_of(found: Collection[Solution], *, now: datetime) -> list[SolutionState]:
    """How solutions of :func:`solutions` stand. 3 queries at most, none where there are none."""
    listed = list(found)
    used = uses_of(listed) if listed else {}
    return [
        SolutionState(
            solution=one,
            checks=list(one.solution_checks.all()),
            top_ups=list(one.solution_top_ups.all()),
            used=used.get(one.pk, ()),
            now=now,
        )
        for one in listed
    ]


def last_rinses(skids: Collection[Skid]) -> dict[int, datetime]:
    """When each of these skids and hoses was last rinsed by itself. 1 query."""
    return dict(
        GearRinse.objects.filter(skid__in=skids)
        .values_list("skid")
        .annotate(at=Max("rinsed_at"))
        .order_by()
    )


def agents_in_tank(tank: SolutionTank) -> Sequence[Agent]:
    """Agents of the solutions that no proved rinse has taken out of a tank. 2 queries."""
    rinsed = tank.gear_rinses.aggregate(at=Max("rinsed_at"))["at"]
    left = tank.made_solutions.all()
    if rinsed is not None:
        left = left.filter(made_at__gt=rinsed)
    return list(Agent.objects.filter(pk__in=left.values("agent")).order_by("sort_key"))


def only_skid(found: Collection[Skid]) -> Skid | None:
    """The skid, where there is but one. 0 queries."""
    skids = [one for one in found if one.kind != SkidKind.HOSE]
    return skids[0] if len(skids) == 1 else None
