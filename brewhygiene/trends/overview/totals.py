"""Sums over turnarounds, and which turnarounds each sum is of: the same rule for both."""

import dataclasses
from collections.abc import Callable, Iterable, Sequence

from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.rates.difference import Middle, middle_of
from brewhygiene.science.rates.proportions import Share, wilson
from brewhygiene.trends.turns.facts import TurnFact

# One in so many was slower than the slow tail says.
SLOW_ONE_IN = 10


@dataclasses.dataclass(frozen=True)
class Kind:
    """A kind of turnaround that a figure counts."""

    title: str
    holds: Callable[[TurnFact], bool]


TURNAROUNDS: dict[str, Kind] = {
    "all": Kind("Turnarounds", lambda fact: True),
    "told": Kind(
        "Turnarounds of which it is told whether they were clean the first time",
        lambda fact: fact.first_time_clean is not None,
    ),
    "clean": Kind("Clean the first time", lambda fact: fact.first_time_clean is True),
    "not-clean": Kind("Not clean the first time", lambda fact: fact.first_time_clean is False),
    "not-told": Kind(
        "Not told whether they were clean the first time",
        lambda fact: fact.first_time_clean is None,
    ),
    "cleaned-again": Kind("Cleaned again", lambda fact: fact.recleans > 0),
    "released": Kind("Released", lambda fact: fact.released_at is not None),
    "lapsed": Kind("Their release lapsed", lambda fact: fact.lapses > 0),
    "self-released": Kind("Released by someone who had cleaned", lambda fact: fact.self_release),
    "without-release": Kind("Filled without a release", lambda fact: fact.without_release),
}


def chosen(facts: Iterable[TurnFact], what: str) -> list[TurnFact]:
    """The turnarounds that a figure counts."""
    return [fact for fact in facts if TURNAROUNDS[what].holds(fact)]


@dataclasses.dataclass(frozen=True)
class Totals:
    """Sums of a stretch of time. ``clean`` and ``middle_h`` are ``None`` where nothing is told.

    ``slow_h``: one release in ten took longer.
    """

    turnarounds: int
    told: int
    not_told: int
    not_clean: int
    clean: Share | None
    cleaned_again: int
    recleans: int
    released: int
    hours: Middle | None
    middle_h: float | None
    slow_h: float | None
    lapsed: int
    self_released: int
    without_release: int
    deviations: int


def totals_of(facts: Sequence[TurnFact]) -> Totals:
    """The sums of some turnarounds."""
    told = chosen(facts, "told")
    clean = len(chosen(told, "clean"))
    hours = sorted(f.hours_to_release for f in facts if f.hours_to_release is not None)
    try:
        interval = middle_of(values=hours)
    except TooFewReadings:
        interval = None
    return Totals(
        turnarounds=len(facts),
        told=len(told),
        not_told=len(facts) - len(told),
        not_clean=len(told) - clean,
        clean=wilson(count=clean, number=len(told)) if told else None,
        cleaned_again=len(chosen(facts, "cleaned-again")),
        recleans=sum(fact.recleans for fact in facts),
        released=len(hours),
        hours=interval,
        middle_h=_at_rank(hours, 2),
        slow_h=_at_rank(hours, SLOW_ONE_IN) if len(hours) >= SLOW_ONE_IN else None,
        lapsed=len(chosen(facts, "lapsed")),
        self_released=len(chosen(facts, "self-released")),
        without_release=len(chosen(facts, "without-release")),
        deviations=sum(fact.deviations for fact in facts),
    )


def _at_rank(ordered: Sequence[float], one_in: int) -> float | None:
    """The value that one in so many is above."""
    if not ordered:
        return None
    place = len(ordered) * (1 - 1 / one_in)
    low = max(0, min(int(place - 0.5), len(ordered) - 1))
    high = min(low + 1, len(ordered) - 1)
    part = min(max(place - 0.5 - low, 0.0), 1.0)
    return ordered[low] * (1 - part) + ordered[high] * part
