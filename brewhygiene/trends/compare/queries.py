"""What stands behind the comparison of turnarounds: deviations, causes, factors, signatures."""

import dataclasses
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime

from django.db.models import Count, Exists, OuterRef, Q
from django.utils import timezone

from brewhygiene.atp.models.causes import Cause, FoundCause
from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.regimes.models import Quantity, StepKind
from brewhygiene.science.rates.odds import Factor
from brewhygiene.trends.compare.grouping import NOT_KNOWN, SEASONS, season_of
from brewhygiene.trends.turns.facts import TurnFact
from brewhygiene.trends.turns.happenings import first_readings, opened_within, standing_deviations
from brewhygiene.turnarounds.models.deviations import DeviationKind

# A lot of an agent is a factor where so large a part of the cleans has one recorded.
LOT_RECORDED = 0.5


@dataclasses.dataclass(frozen=True)
class Deviations:
    """Deviations by what deviated in which step, by kind of step, and by kind."""

    together: tuple[tuple[str, int], ...]
    by_step: tuple[tuple[str, int], ...]
    by_kind: tuple[tuple[str, int], ...]


def deviations_in(*, since: datetime, until: datetime) -> Deviations:
    """Deviations of the cleans of turnarounds opened in a period. 1 query.

    One whose reading was corrected since does not count.
    """
    rows = (
        standing_deviations()
        .filter(opened_within("record__clean__turnaround__", since=since, until=until))
        .order_by()
        .values_list("record__step__kind", "quantity", "kind")
        .annotate(number=Count("pk"))
    )
    together: Counter[str] = Counter()
    by_step: Counter[str] = Counter()
    by_kind: Counter[str] = Counter()
    for step, quantity, kind, number in rows:
        together[_what(step, quantity, kind)] += number
        by_step[str(StepKind(step).label)] += number
        by_kind[str(DeviationKind(kind).label)] += number
    return Deviations(*(tuple(c.items()) for c in (together, by_step, by_kind)))


def _what(step: str, quantity: str, kind: str) -> str:
    where = str(StepKind(step).label).capitalize()
    said = str(DeviationKind(kind).label)
    # Short enough to stand beside a bar.
    return (
        f"{where}, {Quantity(quantity).label} {said.replace(' its', '')}"
        if quantity
        else f"{where}, {said}"
    )


def causes_in(*, since: datetime, until: datetime) -> list[tuple[str, int]]:
    """Found causes of turnarounds opened in a period. 1 query."""
    return [
        (str(Cause(cause).label).capitalize(), number)
        for cause, number in FoundCause.objects.filter(opened_within(since=since, until=until))
        .order_by()
        .values_list("cause")
        .annotate(number=Count("pk"))
    ]


@dataclasses.dataclass(frozen=True)
class Unexplained:
    """Turnarounds with a reading over the action limit, and those of them with no cause found."""

    over: int
    without_cause: int


def unexplained_in(*, since: datetime, until: datetime) -> Unexplained:
    """1 query."""
    over = (
        Result.objects.filter(
            opened_within(since=since, until=until),
            verdict=Verdict.ACTION,
            corrected_by__isnull=True,
        )
        .order_by()
        .values("turnaround")
        .distinct()
        .annotate(found=Exists(FoundCause.objects.filter(turnaround=OuterRef("turnaround"))))
    )
    found = [row["found"] for row in over]
    return Unexplained(over=len(found), without_cause=found.count(False))


def factors_of(facts: Sequence[TurnFact]) -> list[Factor]:
    """What may matter to each turnaround, in the order in which one would look."""
    factors = [
        Factor("Vessel", [fact.vessel_name for fact in facts]),
        Factor("Regime", [f"{fact.regime}, version {fact.version}" for fact in facts]),
        Factor("Content before", [fact.beer_before or NOT_KNOWN for fact in facts]),
    ]
    agents = Counter(agent for fact in facts for agent in {used.agent for used in fact.agent_lots})
    for agent, number in sorted(agents.items(), key=lambda pair: (-pair[1], pair[0])):
        if number >= LOT_RECORDED * len(facts):
            lots = [
                " + ".join(used.lot for used in fact.agent_lots if used.agent == agent)
                for fact in facts
            ]
            factors.append(Factor(f"Lot of {agent}", [lot or None for lot in lots]))
    factors.append(Factor("Season", [SEASONS[season_of(fact.opened_at)] for fact in facts]))
    return factors


@dataclasses.dataclass(frozen=True)
class Month:
    """The releases of a month: in all, by somebody who had cleaned, and fills without one."""

    first: date
    releases: int
    self_released: tuple[TurnFact, ...]
    without_release: tuple[TurnFact, ...]


def signed_by_month(facts: Iterable[TurnFact]) -> list[Month]:
    """Months in which something was released or filled, the latest first."""
    released: dict[date, list[TurnFact]] = defaultdict(list)
    unreleased: dict[date, list[TurnFact]] = defaultdict(list)
    for fact in facts:
        if fact.released_at is not None:
            released[_month(fact.released_at)].append(fact)
        if fact.without_release and fact.closed_at is not None:
            unreleased[_month(fact.closed_at)].append(fact)
    return [
        Month(
            first=month,
            releases=len(released[month]),
            self_released=tuple(fact for fact in released[month][::-1] if fact.self_release),
            without_release=tuple(unreleased[month][::-1]),
        )
        for month in sorted({*released, *unreleased}, reverse=True)
    ]


def _month(moment: datetime) -> date:
    return timezone.localtime(moment).date().replace(day=1)


def turnarounds_of_point(point: str, *, since: datetime, until: datetime) -> dict[int, bool | None]:
    """By turnaround, whether a point's first reading there was within the action limit; ``None``
    where it was not judged. 1 query.

    ``point`` is a key as an address brings it; one that is no number has no readings.
    """
    if not point.isdecimal() or len(point) > 12:
        return {}
    found: dict[int, bool | None] = {}
    for turn, verdict in (
        first_readings()
        .filter(opened_within(since=since, until=until), Q(point=int(point)))
        .order_by("pk")
        .values_list("turnaround_id", "verdict")
    ):
        judged = None if verdict == Verdict.UNJUDGED else verdict != Verdict.ACTION
        # Of several cleans, one over the limit is what one looks for.
        if turn not in found or judged is False:
            found[turn] = judged
    return found
