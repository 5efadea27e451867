"""Turnarounds by vessel, regime, lot and so on: how often each was clean the first time."""

import dataclasses
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime

from django.db.models import Count, Q
from django.utils import timezone

from brewhygiene.atp.models.readings import Verdict
from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.rates.funnel import Funnel, Place, funnel
from brewhygiene.science.rates.proportions import Share, wilson
from brewhygiene.trends.turns.facts import TurnFact
from brewhygiene.trends.turns.happenings import first_readings, opened_within

NOT_KNOWN = "not on record"
SEASONS = ("December to February", "March to May", "June to August", "September to November")


@dataclasses.dataclass(frozen=True)
class Label:
    """One value of a turnaround. ``key`` is how an address asks for it; only labels of one
    ``family`` are compared (as lots of one agent). ``vessel`` is that of a point."""

    key: str
    name: str
    family: str = ""
    vessel: str = ""


@dataclasses.dataclass(frozen=True)
class By:
    """One way of grouping turnarounds."""

    name: str
    many: str
    labels: Callable[[TurnFact], Iterable[Label]]


def season_of(moment: datetime) -> int:
    """The quarter of the year by its months where the brewery stands: no half of the Earth."""
    return timezone.localtime(moment).month % 12 // 3


def _vessel(fact: TurnFact) -> Iterable[Label]:
    yield Label(str(fact.vessel_id), fact.vessel_name)


def _regime(fact: TurnFact) -> Iterable[Label]:
    if fact.regime:
        name = f"{fact.regime}, version {fact.version}"
        yield Label(name, name)


def _lot(fact: TurnFact) -> Iterable[Label]:
    for used in fact.agent_lots:
        # The lot first: where there is little room, the agent is cut off.
        yield Label(str(used), f"{used.lot}, {used.agent}", family=used.agent)


def _season(fact: TurnFact) -> Iterable[Label]:
    season = season_of(fact.opened_at)
    yield Label(str(season), SEASONS[season])


def _before(fact: TurnFact) -> Iterable[Label]:
    yield Label(fact.beer_before, fact.beer_before or NOT_KNOWN)


def _kind_before(fact: TurnFact) -> Iterable[Label]:
    kinds = [
        Label(key, name)
        for key, name, is_so in (
            ("sour", "Sour or mixed culture", fact.sour_or_mixed_before),
            ("diastatic", "Diastatic yeast", fact.diastatic_before),
            ("fruit", "Fruit or heavy dry hop", fact.fruit_or_hops_before),
        )
        if is_so
    ]
    yield from kinds or [Label("usual", "None of these" if fact.beer_before else NOT_KNOWN)]


BYS: dict[str, By] = {
    "vessel": By("Vessel", "vessels", _vessel),
    "regime": By("Regime", "regimes", _regime),
    "lot": By("Agent lot", "agent lots", _lot),
    "season": By("Season", "seasons", _season),
    "before": By("Content before", "beers", _before),
    "kind": By("Kind of content before", "kinds of content", _kind_before),
}


@dataclasses.dataclass(frozen=True)
class Group:
    """Turnarounds, or readings at one point, with one label.

    ``rate`` is how many of those judged were clean the first time, ``None`` without one;
    ``place`` how it lies against the others of its family, ``None`` where there is none.
    ``vessel`` is that of a point.
    """

    key: str
    name: str
    vessel: str
    judged: int
    clean: int
    not_judged: int
    rate: Share | None
    place: Place | None = None

    @property
    def not_clean(self) -> int:
        return self.judged - self.clean

    @property
    def outside(self) -> int:
        """Outside which limits it lies: -2 or 2 for 99.8 %, -1 or 1 for 95 %, 0 for within."""
        return self.place.outside if self.place else 0


@dataclasses.dataclass(frozen=True)
class Groups:
    """Groups with most evidence of being worse first; the funnel where all are one family."""

    groups: tuple[Group, ...]
    funnel: Funnel | None = None
    why_no_funnel: str = ""

    @property
    def worse(self) -> list[Group]:
        return [group for group in self.groups if group.outside < 0]

    @property
    def better(self) -> list[Group]:
        return [group for group in self.groups if group.outside > 0]


def grouped(facts: Iterable[TurnFact], by: str) -> Groups:
    """Turnarounds by one of ``BYS``."""
    counts: dict[Label, list[int]] = defaultdict(lambda: [0, 0, 0])
    for fact in facts:
        for label in BYS[by].labels(fact):
            counted = counts[label]
            if fact.first_time_clean is None:
                counted[2] += 1
            else:
                counted[0] += 1
                counted[1] += fact.first_time_clean
    return _groups_of(
        (label, judged, clean, not_judged) for label, (judged, clean, not_judged) in counts.items()
    )


def grouped_points(*, since: datetime, until: datetime) -> Groups:
    """First readings after the cleans of turnarounds opened in a period, by point. 1 query.

    A re-clean's readings count too: each is the first at its point after its clean.
    """
    rows = (
        first_readings()
        .filter(opened_within(since=since, until=until))
        .order_by()
        .values_list("point", "point__vessel__name", "point__name")
        .annotate(
            judged=Count("pk", filter=~Q(verdict=Verdict.UNJUDGED)),
            over=Count("pk", filter=Q(verdict=Verdict.ACTION)),
            unjudged=Count("pk", filter=Q(verdict=Verdict.UNJUDGED)),
        )
    )
    return _groups_of(
        (Label(str(pk), f"{vessel}, {point}", vessel=vessel), judged, judged - over, unjudged)
        for pk, vessel, point, judged, over, unjudged in rows
    )


def _groups_of(rows: Iterable[tuple[Label, int, int, int]]) -> Groups:
    families: dict[str, list[tuple[Label, int, int, int]]] = defaultdict(list)
    for row in rows:
        families[row[0].family].append(row)
    groups: list[Group] = []
    drawn: Funnel | None = None
    why = "There is nothing to compare yet."
    for family in families.values():
        drawn, why = _funnel(family)
        places = {place.name: place for place in drawn.places} if drawn else {}
        groups += [
            Group(
                key=label.key,
                name=label.name,
                vessel=label.vessel,
                judged=judged,
                clean=clean,
                not_judged=not_judged,
                rate=wilson(count=clean, number=judged) if judged else None,
                place=places.get(label.key),
            )
            for label, judged, clean, not_judged in family
        ]
    one = len(families) == 1
    groups.sort(key=lambda g: (g.rate is None, g.place.z if g.place else 0.0, g.name))
    return Groups(
        groups=tuple(groups),
        funnel=drawn if one else None,
        why_no_funnel="" if one and drawn else why,
    )


def _funnel(rows: Sequence[tuple[Label, int, int, int]]) -> tuple[Funnel | None, str]:
    judged = [row for row in rows if row[1]]
    try:
        return (
            funnel(
                names=[row[0].key for row in judged],
                counts=[row[2] for row in judged],
                numbers=[row[1] for row in judged],
            ),
            "",
        )
    except TooFewReadings as refusal:
        return None, str(refusal)
