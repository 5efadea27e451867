"""What the overview shows: figures of a period, each with the rows behind it."""

import bisect
import dataclasses
from collections.abc import Sequence
from datetime import datetime

from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.brewery.models import Brewery
from brewhygiene.drawing.figure import Axis, Figure, Level, Line, Panel, Spread, Table
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.quantities.words import percent, percent_range, percent_with_interval
from brewhygiene.science.rates.proportions import wilson
from brewhygiene.trends.models import PointStanding
from brewhygiene.trends.overview.sentences import Figures, compared
from brewhygiene.trends.signals.standing import standings_and_waiting
from brewhygiene.trends.turns.cleaning_cost import CleaningCost, cleaning_cost
from brewhygiene.trends.turns.facts import TurnFact, turn_facts
from brewhygiene.trends.turns.periods import Period, months_until
from brewhygiene.trends.turns.totals import Totals, totals_of

MONTHS = 12
# The overview takes so many cleans for their cost, and says so.
CLEANS_COSTED = 60
WORSE_SHOWN = 5


def unjudged_results(period: Period) -> QuerySet[Result]:
    """Standing readings without a verdict, the latest first. 1 query."""
    return Result.objects.filter(
        verdict=Verdict.UNJUDGED,
        corrected_by__isnull=True,
        taken_at__gte=period.since,
        taken_at__lt=period.until,
    ).order_by("-taken_at", "-pk")


def standing_results(period: Period) -> QuerySet[Result]:
    """Every standing reading. 1 query."""
    return Result.objects.filter(
        corrected_by__isnull=True, taken_at__gte=period.since, taken_at__lt=period.until
    )


def overdue_plates() -> QuerySet[Plate]:
    """Plates whose day has passed and that nobody has read, the oldest first. 1 query."""
    return Plate.objects.filter(state=PlateState.PENDING, due_on__lt=timezone.localdate()).order_by(
        "due_on", "pk"
    )


@dataclasses.dataclass(frozen=True)
class Month:
    """The sums of a month."""

    period: Period
    totals: Totals


@dataclasses.dataclass(frozen=True)
class Overview:
    """The figures of the overview."""

    period: Period
    totals: Totals
    before: Totals | None
    months: Sequence[Month]
    readings: int
    unjudged: int
    overdue: int
    worse: Sequence[PointStanding]
    waiting: int
    cost: CleaningCost | None

    @property
    def worse_shown(self) -> Sequence[PointStanding]:
        return self.worse[:WORSE_SHOWN]

    @property
    def more_worse(self) -> int:
        return len(self.worse) - len(self.worse_shown)

    @property
    def clean_words(self) -> str:
        """The share clean the first time, with its interval."""
        share = self.totals.clean
        return percent_with_interval(share.share, share.low, share.high) if share else ""

    @property
    def change(self) -> str:
        """How the share clean the first time changed; '' where there is none to compare."""
        return compared(self.figures) if self.totals.clean else ""

    @property
    def needs_attention(self) -> bool:
        return bool(self.worse or self.overdue or self.unjudged)

    @property
    def figures(self) -> Figures:
        """What is said of it in words."""
        return Figures(
            words=self.period.words,
            before_words=self.period.before.words,
            totals=self.totals,
            before=self.before,
            readings=self.readings,
            unjudged=self.unjudged,
        )


def facts_of(period: Period, facts: Sequence[TurnFact]) -> Sequence[TurnFact]:
    """Those opened within a period, of ``facts`` in the order of time."""
    first, after = (
        bisect.bisect_left(facts, moment, key=lambda fact: fact.opened_at)
        for moment in (period.since, period.until)
    )
    return facts[first:after]


def overview_of(period: Period, *, brewery: Brewery, now: datetime) -> Overview:
    """The overview. 27 queries, whatever was recorded."""
    months = months_until(now, MONTHS)
    since = min(period.since, months[0].since)
    # A year is not compared: that would read two for the sake of one sentence.
    compare = period.before.since >= since
    facts = turn_facts(since=since, until=now, now=now)
    found = standings_and_waiting(now)
    return Overview(
        period=period,
        totals=totals_of(facts_of(period, facts)),
        before=totals_of(facts_of(period.before, facts)) if compare else None,
        months=[Month(month, totals_of(facts_of(month, facts))) for month in months],
        readings=standing_results(period).count(),
        unjudged=unjudged_results(period).count(),
        overdue=overdue_plates().count(),
        worse=found.worse,
        waiting=found.waiting,
        cost=cleaning_cost(
            since=period.since, until=period.until, most=CLEANS_COSTED, brewery=brewery
        ),
    )


def trend_figure(months: Sequence[Month], *, height_px: int = 250) -> Figure | None:
    """The share clean the first time by month; ``None`` before two months have one."""
    shares = [month.totals.clean for month in months]
    known = [share for share in shares if share is not None]
    if len(known) < 2:
        return None
    names = tuple(_short(month.period) for month in months)
    links = [
        f"{reverse('trends:rows', args=['judged'])}?in={month.period.code}" for month in months
    ]
    # Dots, not bars: the axis may begin where the intervals do.
    foot = min(share.low for share in known) * 100 // 20 * 20
    together = wilson(
        count=sum(share.count for share in known), number=sum(share.number for share in known)
    )
    middle = [None if s is None else s.share * 100 for s in shares]
    return Figure(
        name="first-time-clean",
        caption="Clean the first time, by month",
        says=(
            f"{together.count} of {together.number} turnarounds over {len(known)} months, "
            f"{percent(together.share)} (dashed). Bars: 95 % intervals."
        ),
        panels=[
            Panel(
                x=Axis(kind="category", categories=names),
                y=Axis(title="% of turnarounds", low=foot, high=102),
                marks=[
                    Level(y=together.share * 100, ink="soft"),
                    Line(x=names, y=middle, ink="soft", width=1),
                    Spread(
                        at=names,
                        low=[None if s is None else s.low * 100 for s in shares],
                        middle=middle,
                        high=[None if s is None else s.high * 100 for s in shares],
                        ink="blue",
                        words=[_month_words(month) for month in months],
                        links=links,
                    ),
                ],
            )
        ],
        table=Table(
            headings=("Month", "Clean the first time", "Of", "Share", "95 % interval"),
            rows=[_month_row(month) for month in months],
            links=links,
        ),
        height_px=height_px,
    )


def _short(month: Period) -> str:
    name, year = month.words.split(" ")
    return f"{name[:3]} {year[2:]}"


def _month_row(month: Month) -> tuple[str, ...]:
    share = month.totals.clean
    if share is None:
        return (month.period.words, "not judged", "0", "", "")
    return (
        month.period.words,
        str(share.count),
        str(share.number),
        percent(share.share),
        percent_range(share.low, share.high),
    )


def _month_words(month: Month) -> str:
    words, count, number, share, interval = _month_row(month)
    return f"{words}: {count} of {number}, {share} ({interval})" if share else f"{words}: {count}"
