"""Which readings belong to a baseline, and the reads of its pages."""

import dataclasses
import zoneinfo
from datetime import date, datetime, time, timedelta

from django.db.models import Count, Exists, Max, OuterRef, Q, QuerySet

from brewhygiene.atp.models.baselines import Baseline, BaselineExclusion
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result, standing_results
from brewhygiene.atp.questions import plates_that_grew
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.regimes.models import Regime
from brewhygiene.science.limits.effect import PastClean
from brewhygiene.turnarounds.models import Turnaround

HISTORY_REACH = timedelta(days=2 * 365)
OUT_OF_REACH = 2_147_483_647


def day_bounds(since: date, until: date, brewery: Brewery) -> tuple[datetime, datetime]:
    """From the first moment of ``since`` to the first after ``until``, on the brewery's clock."""
    zone = zoneinfo.ZoneInfo(brewery.time_zone)
    first = datetime.combine(since, time.min, zone)
    return first, datetime.combine(until + timedelta(days=1), time.min, zone)


def baselines_to_list() -> QuerySet[Baseline]:
    """Every baseline with its scale, points counted, and its limits in force. 1 query."""
    in_force = LimitSet.objects.filter(
        baseline=OuterRef("pk"), approved_at__isnull=False, retired_at__isnull=True
    )
    return Baseline.objects.select_related("meter", "atp_test", "made_by").annotate(
        points_chosen=Count("points", distinct=True), in_force=Exists(in_force)
    )


def baseline_to_study() -> QuerySet[Baseline]:
    """A baseline with its scale, points and regimes. 3 queries."""
    return Baseline.objects.select_related("meter", "atp_test", "made_by").prefetch_related(
        "points__vessel", "regimes"
    )


def chosen_results(
    baseline: Baseline,
    *,
    points: list[SamplingPoint],
    regimes: list[Regime],
    brewery: Brewery,
) -> QuerySet[Result]:
    """The readings that a baseline's choice covers, with the excluded ones. 1 query.

    Those that no correction replaces, of its meter and ATP test, taken within its days, at its
    points, of its kind of vessel and after cleans by its regimes (none: any). Only the first
    reading at a point after a clean: a retest follows a high reading, and would bias the baseline.
    """
    first, after = day_bounds(baseline.since, baseline.until, brewery)
    results = standing_results(
        Result.objects.filter(
            meter_id=baseline.meter_id,
            test_lot__atp_test_id=baseline.atp_test_id,
            point__sample_kind=baseline.atp_test.sample_kind,
            taken_at__gte=first,
            taken_at__lt=after,
            retest_of__isnull=True,
        )
    )
    if points:
        results = results.filter(point__in=points)
    if baseline.vessel_kind:
        results = results.filter(point__vessel__kind=baseline.vessel_kind)
    if regimes:
        results = results.filter(clean__version__regime__in=regimes)
    return results.select_related(
        "point__vessel", "meter", "test_lot__atp_test", "clean__version__regime"
    ).order_by("taken_at", "pk")


@dataclasses.dataclass(frozen=True)
class Members:
    """The readings of a baseline: those that count, and the excluded ones."""

    counted: list[Result]
    excluded: list[tuple[Result, BaselineExclusion]]


def members_of(baseline: Baseline) -> Members:
    """The readings that count and the excluded ones. 5 queries, 3 where prefetched."""
    standing = {
        exclusion.result_id: exclusion
        for exclusion in baseline.exclusions.filter(readmitted_at__isnull=True).select_related(
            "excluded_by"
        )
    }
    results = chosen_results(
        baseline,
        points=list(baseline.points.all()),
        regimes=list(baseline.regimes.all()),
        brewery=Brewery.current(),
    )
    counted, excluded = [], []
    for result in results:
        if result.pk in standing:
            excluded.append((result, standing[result.pk]))
        else:
            counted.append(result)
    return Members(counted, excluded)


@dataclasses.dataclass(frozen=True)
class History:
    """Past cleans sampled on a baseline's scale: how many, and those above a floor.

    ``positive`` is how many of all had a positive plate of the same turnaround.
    """

    since: date
    cleans: int
    positive: int
    high: list[PastClean]


def history_of(baseline: Baseline, *, above_rlu: int | None, now: datetime) -> History:
    """The cleans of the two years until ``now`` read on this scale at its points. 2 queries.

    Of each the highest standing reading counts; those not above ``above_rlu`` are counted only.
    Positive plates are counted by the name of the relation only.
    """
    since = now - HISTORY_REACH
    results = standing_results(
        Result.objects.filter(
            meter_id=baseline.meter_id,
            test_lot__atp_test_id=baseline.atp_test_id,
            point__sample_kind=baseline.atp_test.sample_kind,
            taken_at__gte=since,
            taken_at__lte=now,
        )
    )
    points = list(baseline.points.all())
    if points:
        results = results.filter(point__in=points)
    if baseline.vessel_kind:
        results = results.filter(point__vessel__kind=baseline.vessel_kind)
    grown = Q(Exists(plates_that_grew(OuterRef("turnaround"))))
    counted = results.aggregate(
        cleans=Count("clean", distinct=True),
        positive=Count("clean", filter=grown, distinct=True),
    )
    floor = OUT_OF_REACH if above_rlu is None else above_rlu
    high = (
        results.filter(rlu__gt=floor)
        .order_by()
        .values("clean")
        .annotate(top=Max("rlu"), grown=Count("pk", filter=grown))
        .values_list("top", "grown")
    )
    return History(
        since=since.date(),
        cleans=counted["cleans"],
        positive=counted["positive"],
        high=[PastClean(top, bool(plates)) for top, plates in high],
    )


def vessels_to_judge(baseline: Baseline) -> QuerySet[Vessel]:
    """The vessels in service whose points limits for a baseline's kind would judge. 1 query."""
    points = SamplingPoint.objects.filter(
        vessel=OuterRef("pk"), active=True, sample_kind=baseline.atp_test.sample_kind
    )
    return Vessel.objects.filter(
        Exists(points), kind=baseline.vessel_kind, out_of_service_since__isnull=True
    ).order_by("order", "sort_key")


def limits_from(baseline: Baseline) -> QuerySet[LimitSet]:
    """Every set proposed from a baseline, the latest first. 1 query."""
    return baseline.limits.select_related(
        "meter", "atp_test", "point__vessel", "proposed_by", "approval"
    ).order_by("-proposed_at", "-pk")


def turnarounds_with_growth(results: list[Result]) -> set[int]:
    """The turnarounds of ``results`` with a positive plate. 1 query."""
    among = Turnaround.objects.filter(pk__in={result.turnaround_id for result in results})
    return set(among.filter(Exists(plates_that_grew(OuterRef("pk")))).values_list("pk", flat=True))


def result_of_baseline(pk: int) -> QuerySet[Result]:
    """A reading with all that its page names, to be excluded or included. 1 query."""
    return Result.objects.filter(pk=pk).select_related(
        "point__vessel", "meter", "test_lot__atp_test", "clean__version__regime"
    )
