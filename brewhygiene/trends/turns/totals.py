"""Sums over turnarounds, and which turnarounds each sum is of: the same rule for both."""

import dataclasses
from collections.abc import Callable, Iterable, Sequence

from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.rates.difference import Middle, middle_of
from brewhygiene.science.rates.proportions import Share, wilson
from brewhygiene.trends.turns.facts import TurnFact

# One release in so many took longer than ``slow_h``.
SLOW_ONE_IN = 10


@dataclasses.dataclass(frozen=True)
class Kind:
    """A kind of turnaround that a figure counts."""

    title: str
    matches: Callable[[TurnFact], bool]


TURNAROUNDS: dict[str, Kind] = {
    "all": Kind("Turnarounds", lambda fact: True),
    "judged": Kind("Turnarounds judged", lambda fact: fact.first_time_clean is not None),
    "clean": Kind("Clean the first time", lambda fact: fact.first_time_clean is True),
    "not-clean": Kind("Not clean the first time", lambda fact: fact.first_time_clean is False),
    "not-judged": Kind("Turnarounds not judged", lambda fact: fact.first_time_clean is None),
    "re-cleaned": Kind("Re-cleaned", lambda fact: fact.recleans > 0),
    "released": Kind("Released", lambda fact: fact.released_at is not None),
    "lapsed": Kind("Release lapsed", lambda fact: fact.lapses > 0),
    "self-released": Kind("Self-released", lambda fact: fact.self_release),
    "without-release": Kind("Filled without a release", lambda fact: fact.without_release),
}


def matching(facts: Iterable[TurnFact], what: str) -> list[TurnFact]:
    """The turnarounds that a figure counts."""
    return [fact for fact in facts if TURNAROUNDS[what].matches(fact)]


@dataclasses.dataclass(frozen=True)
class Totals:
    """Sums of a stretch of time. ``clean`` and ``median_h`` are ``None`` where there is none.

    ``slow_h``: one release in ten took longer.
    """

    turnarounds: int
    judged: int
    not_judged: int
    not_clean: int
    clean: Share | None
    recleaned: int
    recleans: int
    released: int
    hours: Middle | None
    median_h: float | None
    slow_h: float | None
    lapsed: int
    self_released: int
    without_release: int
    deviations: int


def share_of(facts: Iterable[TurnFact]) -> Share | None:
    """The share clean the first time; ``None`` where no turnaround is judged."""
    judged = matching(facts, "judged")
    return wilson(count=len(matching(judged, "clean")), number=len(judged)) if judged else None


def totals_of(facts: Sequence[TurnFact]) -> Totals:
    """The sums of some turnarounds."""
    share = share_of(facts)
    judged = share.number if share else 0
    hours = sorted(f.hours_to_release for f in facts if f.hours_to_release is not None)
    try:
        interval = middle_of(values=hours)
    except TooFewReadings:
        interval = None
    return Totals(
        turnarounds=len(facts),
        judged=judged,
        not_judged=len(facts) - judged,
        not_clean=share.number - share.count if share else 0,
        clean=share,
        recleaned=len(matching(facts, "re-cleaned")),
        recleans=sum(fact.recleans for fact in facts),
        released=len(hours),
        hours=interval,
        median_h=_at_rank(hours, 2),
        slow_h=_at_rank(hours, SLOW_ONE_IN) if len(hours) >= SLOW_ONE_IN else None,
        lapsed=len(matching(facts, "lapsed")),
        self_released=len(matching(facts, "self-released")),
        without_release=len(matching(facts, "without-release")),
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
