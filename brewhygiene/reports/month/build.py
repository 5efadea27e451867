"""What the monthly report contains: figures of a month, vessel by vessel, and what was signed."""

import dataclasses
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.release.models import Decision, Outcome
from brewhygiene.trends.models import PointStanding
from brewhygiene.trends.overview.queries import Month, facts_of, overdue_plates
from brewhygiene.trends.overview.sentences import Figures, Money, Worse, sentences_of
from brewhygiene.trends.signals.standing import standings_and_waiting
from brewhygiene.trends.signals.words import standing_words
from brewhygiene.trends.turns.cleaning_cost import CleaningCost, cleaning_cost, per_site_volume
from brewhygiene.trends.turns.facts import TurnFact, turn_facts
from brewhygiene.trends.turns.periods import Period, months_until
from brewhygiene.trends.turns.totals import Totals, totals_of
from brewhygiene.trends.words import long_day_words
from brewhygiene.turnarounds.models.deviations import Deviation, DeviationKind, Disposition

MONTHS = 12
# So many months are in each vessel's chart: the month itself and those before it.
CHARTED_MONTHS = 3
# The cost of so many cleans at most is worked out, the latest; the report says so.
CLEANS_COSTED = 800


class Reading(NamedTuple):
    """A judged reading as a share of its own action limit: of any meter, since each has its own."""

    taken_at: datetime
    share: float
    verdict: str


@dataclasses.dataclass(frozen=True)
class VesselMonth:
    """One vessel's month."""

    vessel: Vessel
    totals: Totals
    verdicts: Mapping[str, int]
    plates_positive: int
    cost: float | None
    worse: Sequence[PointStanding]
    charted: Sequence[Reading]

    @property
    def readings(self) -> int:
        return sum(self.verdicts.values())

    @property
    def action(self) -> int:
        return self.verdicts.get(Verdict.ACTION, 0)

    @property
    def alert(self) -> int:
        return self.verdicts.get(Verdict.ALERT, 0)

    @property
    def unjudged(self) -> int:
        return self.verdicts.get(Verdict.UNJUDGED, 0)


@dataclasses.dataclass(frozen=True)
class DeviationLine:
    """Deviations of one kind: how many, and what was decided on them."""

    words: str
    count: int
    decided: str


@dataclasses.dataclass(frozen=True)
class SignalLine:
    """A point that gets worse, by which rule, since when."""

    standing: PointStanding
    rule: str


@dataclasses.dataclass(frozen=True)
class MonthReport:
    """All that is printed. ``over`` says whether the month is over."""

    period: Period
    brewery: Brewery
    now: datetime
    totals: Totals
    sentences: Sequence[str]
    months: Sequence[Month]
    vessels: Sequence[VesselMonth]
    unused: Sequence[Vessel]
    signals: Sequence[SignalLine]
    waiting: int
    deviations: Sequence[DeviationLine]
    plates: Sequence[Plate]
    overdue: int
    holds: Sequence[Decision]
    waived: Sequence[Decision]
    self_releases: Sequence[Decision]
    by_two: Sequence[Decision]  # over the action limit, or without a meter
    releases: int
    without_release: Sequence[Fill]
    cost: CleaningCost | None

    @property
    def over(self) -> bool:
        return self.period.until <= self.now


def month_report(period: Period, *, brewery: Brewery, now: datetime) -> MonthReport:
    """The report of a month. 39 queries, once it is worked out how the points stand."""
    end = min(period.until, now)
    months = months_until(period.since, MONTHS)
    facts = turn_facts(since=months[0].since, until=end, now=now)
    own = facts_of(period, facts)
    totals = totals_of(own)
    before = period.before
    found = standings_and_waiting(now)
    # What began after the month is no part of its report.
    worse = [row for row in found.worse if row.since is None or row.since < period.until]
    deviations = deviation_lines(period)
    plates = list(plates_read(period))
    overdue = overdue_plates().count()
    cost, cost_before = (
        cleaning_cost(since=p.since, until=p.until, most=CLEANS_COSTED, brewery=brewery)
        for p in (period, before)
    )
    verdicts = _verdicts(period)
    decisions = list(_decisions(period))
    vessels = _vessels(
        own,
        verdicts=verdicts,
        worse=worse,
        plates=plates,
        charted=_charted(period),
        cost=cost,
        brewery=brewery,
    )
    present = {line.vessel.pk for line in vessels}
    return MonthReport(
        period=period,
        brewery=brewery,
        now=now,
        totals=totals,
        sentences=sentences_of(
            Figures(
                words=period.words,
                before_words=before.words,
                totals=totals,
                before=totals_of(facts_of(before, facts)),
                readings=sum(sum(each.values()) for each in verdicts.values()),
                unjudged=sum(each.get(Verdict.UNJUDGED, 0) for each in verdicts.values()),
                deviations=[(line.words, line.count) for line in deviations],
                plates_read=len(plates),
                plates_positive=sum(plate.state == PlateState.POSITIVE for plate in plates),
                plates_overdue=overdue if end == now else 0,
                worse=[Worse(str(row.point), _since_words(row)) for row in worse],
                worse_on=_day(now) if end < now else "",
                money=_money(cost),
                money_before=_money(cost_before),
            )
        ),
        months=[Month(month, totals_of(facts_of(month, facts))) for month in months],
        vessels=vessels,
        unused=[v for v in Vessel.objects.order_by("order", "sort_key") if v.pk not in present],
        signals=[SignalLine(row, standing_words(row)) for row in worse],
        waiting=found.waiting,
        deviations=deviations,
        plates=plates,
        overdue=overdue,
        holds=[d for d in decisions if d.outcome == Outcome.HOLD],
        waived=[d for d in decisions if d.outcome == Outcome.RELEASE and d.waivers],
        self_releases=[d for d in decisions if d.self_release],
        by_two=[d for d in decisions if d.second_signature is not None],
        releases=sum(d.outcome == Outcome.RELEASE for d in decisions),
        without_release=list(
            Fill.objects.filter(
                without_release=True, filled_at__gte=period.since, filled_at__lt=period.until
            )
            .select_related("vessel", "beer", "recorded_by")
            .order_by("filled_at")
        ),
        cost=cost,
    )


def _money(cost: CleaningCost | None) -> Money | None:
    if cost is None or cost.per_volume is None:
        return None
    return Money(cost.per_volume, cost.words, cost.costed)


def _since_words(row: PointStanding) -> str:
    if row.since is None:
        return ""
    return _day(row.since)


def _day(moment: datetime) -> str:
    return long_day_words(timezone.localtime(moment))


def _within(period: Period, field: str) -> Q:
    return Q(**{f"{field}__gte": period.since, f"{field}__lt": period.until})


def _verdicts(period: Period) -> dict[int, dict[str, int]]:
    """Standing readings by vessel and verdict. 1 query."""
    found: dict[int, dict[str, int]] = defaultdict(dict)
    for vessel, verdict, number in (
        Result.objects.filter(_within(period, "taken_at"), corrected_by__isnull=True)
        .order_by()
        .values_list("point__vessel_id", "verdict")
        .annotate(number=Count("pk"))
    ):
        found[vessel][verdict] = number
    return found


def _charted(period: Period) -> dict[int, list[Reading]]:
    """Judged readings of the month and the two before, by vessel. 1 query."""
    since = months_until(period.since, CHARTED_MONTHS)[0].since
    found: dict[int, list[Reading]] = defaultdict(list)
    for vessel, taken_at, rlu, action, verdict in (
        Result.objects.filter(
            taken_at__gte=since,
            taken_at__lt=period.until,
            corrected_by__isnull=True,
            limits__isnull=False,
        )
        .order_by("taken_at")
        .values_list("point__vessel_id", "taken_at", "rlu", "limits__action_rlu", "verdict")
    ):
        # A limit of nothing: what is above it is off the chart, nothing is at its foot.
        share = rlu / action if action else float(bool(rlu)) * 2
        found[vessel].append(Reading(taken_at, share, verdict))
    return found


def _vessels(
    facts: Sequence[TurnFact],
    *,
    verdicts: Mapping[int, Mapping[str, int]],
    worse: Sequence[PointStanding],
    plates: Sequence[Plate],
    charted: Mapping[int, Sequence[Reading]],
    cost: CleaningCost | None,
    brewery: Brewery,
) -> list[VesselMonth]:
    """Vessels of which anything is known in the month, in the order of the board. 1 query."""
    by_vessel: dict[int, list[TurnFact]] = defaultdict(list)
    for fact in facts:
        by_vessel[fact.vessel_id].append(fact)
    present = {*by_vessel, *verdicts, *(plate.vessel_id for plate in plates)}
    lines = []
    for vessel in Vessel.objects.filter(pk__in=present).order_by("order", "sort_key"):
        own = cost.by_vessel.get(vessel.pk) if cost is not None else None
        lines.append(
            VesselMonth(
                vessel=vessel,
                totals=totals_of(by_vessel[vessel.pk]),
                verdicts=verdicts.get(vessel.pk, {}),
                plates_positive=sum(
                    plate.vessel_id == vessel.pk and plate.state == PlateState.POSITIVE
                    for plate in plates
                ),
                cost=per_site_volume(own.money, own.volume_hl, brewery) if own else None,
                worse=[row for row in worse if row.point.vessel_id == vessel.pk],
                charted=charted.get(vessel.pk, []),
            )
        )
    return lines


def deviation_lines(period: Period) -> list[DeviationLine]:
    """Deviations found in a month, by kind, the most frequent first. 1 query.

    A reading that was corrected made none.
    """
    counts: dict[str, int] = defaultdict(int)
    decided: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    names = dict(Disposition.choices)
    for kind, quantity, disposition, number in (
        Deviation.objects.filter(_within(period, "found_at"), reading__corrected_by__isnull=True)
        .order_by()
        .values_list("kind", "quantity", "disposition")
        .annotate(number=Count("pk"))
    ):
        words = _deviation_words(kind, quantity)
        counts[words] += number
        decided[words][names.get(disposition, "not decided yet")] += number
    return [
        DeviationLine(
            words,
            counts[words],
            "; ".join(
                f"{name} {number}"
                for name, number in sorted(decided[words].items(), key=lambda pair: -pair[1])
            ),
        )
        for words in sorted(counts, key=lambda words: (-counts[words], words))
    ]


def _deviation_words(kind: str, quantity: str) -> str:
    named = DeviationKind(kind).label
    of = Deviation(quantity=quantity).get_quantity_display()
    return f"{of} {named}" if quantity else str(named)


def plates_read(period: Period) -> QuerySet[Plate]:
    """Plates read in a month, the positive ones first. 1 query."""
    return (
        Plate.objects.filter(_within(period, "read_at"))
        .exclude(state=PlateState.PENDING)
        .select_related("vessel", "point__vessel")
        .order_by("-state", "read_at", "pk")
    )


def _decisions(period: Period) -> QuerySet[Decision]:
    """Decisions signed in a month, in the order of time. 1 query."""
    return (
        Decision.objects.filter(_within(period, "decided_at"))
        .select_related("turnaround__vessel", "signature", "second_signature")
        .order_by("decided_at", "pk")
    )


def charted_since(period: Period) -> datetime:
    """Where each vessel's chart begins."""
    return months_until(period.since + timedelta(days=1), CHARTED_MONTHS)[0].since
