"""What shape a rise has: one point, one vessel, or all that shares a meter, a lot, a regime.

Readings are compared after each was brought to sigmas from its own chart's centre, so that points
that usually read differently can stand side by side. It says where to look first; it proves
nothing, and where two things always came together it cannot tell them apart.
"""

import dataclasses
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from brewhygiene.science.errors import OutOfRange, TooFewReadings

Factor = Literal[
    "meter", "test_lot", "agent_lot", "regime", "person", "week", "brewery", "vessel", "point"
]

# What many vessels can share, before what is of one vessel or point.
SHARED: tuple[Factor, ...] = ("meter", "test_lot", "agent_lot", "regime", "person")
ORDER: tuple[tuple[Factor, ...], ...] = (SHARED, ("week",), ("brewery",), ("vessel",), ("point",))
# Of whose levels the worst one must not be the whole story.
WITHIN: Mapping[Factor, Factor] = {
    "meter": "vessel",
    "test_lot": "vessel",
    "agent_lot": "vessel",
    "regime": "vessel",
    "person": "vessel",
    "week": "vessel",
    "brewery": "vessel",
    "vessel": "point",
}
LEAST_READINGS = 4
LEAST_RISE = 0.6
SURE = 0.01
# What is left without the worst part has to be so many of its errors above 0 by itself.
SURE_OF_REST = 2.5
# Beyond this many sigmas one reading says no more.
DRAWN_IN = 4.0
# A point's own centre comes from about so many readings, and is off by what they vary.
BASELINE = 20
# So much alike, two sets of readings are one: what made the one cannot be told from the other.
ALIKE = 0.8


@dataclasses.dataclass(frozen=True)
class Tagged:
    """One reading in sigmas from its chart's centre, with what it shares with others.

    ``order`` grows with time (any unit); ``tags`` holds the levels of each factor, several where
    a clean used several lots.
    """

    z: float
    order: float
    tags: Mapping[Factor, tuple[str, ...]]


@dataclasses.dataclass(frozen=True)
class LevelRise:
    """How high the readings of one level are, in sigmas: ``mean`` ± ``error``, of ``readings``.

    ``sureness`` is how often chance alone makes as large a rise among all levels looked at
    (Bonferroni), at most 1; ``without_worst`` the mean without its worst vessel (or point), with
    its error, both ``None`` where it has one only; ``beside`` the mean of the readings of other
    levels, in the same weeks where there are enough of them, ``None`` where there are none.
    """

    factor: Factor
    level: str
    readings: int
    mean: float
    error: float
    sureness: float
    without_worst: float | None
    without_worst_error: float | None
    beside: float | None

    @property
    def flagged(self) -> bool:
        """Whether it is higher than chance explains."""
        return self.mean >= LEAST_RISE and self.sureness < SURE


@dataclasses.dataclass(frozen=True)
class Suspect:
    """Something that may be behind a rise, and the readings it would explain.

    ``alike`` are levels of other factors that came with the same readings: the data cannot tell
    them apart. ``creeping``: it rises slowly rather than in a step.
    """

    rise: LevelRise
    alike: tuple[LevelRise, ...]
    creeping: bool
    places: frozenset[int]


@dataclasses.dataclass(frozen=True)
class Shapes:
    """All levels with their rise, the highest first, and the suspects, the broadest first."""

    levels: tuple[LevelRise, ...]
    suspects: tuple[Suspect, ...]
    readings: int


def shapes_of(readings: Sequence[Tagged]) -> Shapes:
    """Compare the levels of every factor and decide what shape a rise has.

    A shared thing (meter, swab lot, agent lot, regime, person) is suspected where its readings
    are higher than chance explains, higher than the others, and still high without its worst
    vessel; then a week, and the whole brewery; a vessel where it is high without its worst
    point; and a point where it alone is. What one suspect explains is not held against the next.

    ``readings`` in sigmas, each with a spread of one, from centres of some 20 readings. Raises
    :class:`TooFewReadings` with fewer than 12, :class:`OutOfRange` for one that is not a number.

    >>> tags = lambda vessel, point: {"vessel": (vessel,), "point": (f"{vessel} {point}",)}
    >>> places = [(v, p) for v in "AB" for p in "xy"]
    >>> steady = [Tagged((-1) ** n * 0.8, n, tags(*at)) for n in range(8) for at in places]
    >>> high = [Tagged(2.5, 9 + n, tags("B", "y")) for n in range(6)]
    >>> [(s.rise.factor, s.rise.level) for s in shapes_of([*steady, *high]).suspects]
    [('point', 'B y')]
    """
    if len(readings) < 12:
        raise TooFewReadings(
            f"{len(readings)} readings are too few to compare. At least 12 judged readings are "
            "needed."
        )
    for reading in readings:
        if not math.isfinite(reading.z):
            raise OutOfRange(
                f"The reading {reading.z} is not a number of sigmas.", quantity="reading"
            )
    z = [max(-DRAWN_IN, min(DRAWN_IN, reading.z)) for reading in readings]
    table = _Table(readings, z)
    everything = frozenset(range(len(readings)))
    levels = table.rises(everything)
    suspects: list[Suspect] = []
    left = everything
    while len(suspects) < 6:
        found = table.broadest(left)
        if found is None:
            break
        suspects.append(found)
        left -= found.places
    return Shapes(
        levels=tuple(sorted(levels, key=lambda rise: -rise.mean)),
        suspects=tuple(suspects),
        readings=len(readings),
    )


class _Table:
    """Readings by the levels of their factors."""

    def __init__(self, readings: Sequence[Tagged], z: Sequence[float]) -> None:
        self.z = z
        self.order = [reading.order for reading in readings]
        self.places: dict[tuple[Factor, str], set[int]] = defaultdict(set)
        self.tags = [reading.tags for reading in readings]
        for place, reading in enumerate(readings):
            for factor, names in reading.tags.items():
                for name in names:
                    self.places[factor, name].add(place)
            self.places["brewery", "all"].add(place)
        self.tested = max(1, sum(len(p) >= LEAST_READINGS for p in self.places.values()))

    def mean(self, places: Iterable[int]) -> float | None:
        values = [self.z[i] for i in places]
        return math.fsum(values) / len(values) if values else None

    def error(self, places: Sequence[int]) -> float:
        """Of the mean, in sigmas: the readings' own spread, and that of their centres."""
        points = {name for i in places for name in self.tags[i].get("point", ())}
        return math.sqrt(1 / len(places) + 1 / (BASELINE * max(1, len(points))))

    def rises(self, left: frozenset[int]) -> list[LevelRise]:
        sums = _Sums(self, left)
        found = []
        for factor, level in self.places:
            rise = self.rise(factor, level, left, sums)
            if rise is not None:
                found.append(rise)
        return found

    def rise(
        self, factor: Factor, level: str, left: frozenset[int], sums: "_Sums"
    ) -> LevelRise | None:
        ours = sorted(self.places[factor, level] & left)
        if len(ours) < LEAST_READINGS:
            return None
        mean = self.mean(ours)
        assert mean is not None
        error = self.error(ours)
        chance = 0.5 * math.erfc(mean / error / math.sqrt(2))
        rest = self.rest_of(factor, ours)
        return LevelRise(
            factor=factor,
            level=level,
            readings=len(ours),
            mean=mean,
            error=error,
            sureness=min(1.0, chance * self.tested),
            without_worst=self.mean(rest),
            without_worst_error=self.error(rest) if rest else None,
            beside=sums.beside(factor, ours),
        )

    def rest_of(self, factor: Factor, ours: Sequence[int]) -> list[int]:
        """The readings of a level without those of its worst vessel (or point)."""
        inner = WITHIN.get(factor)
        if inner is None:
            return []
        by_inner: dict[str, list[int]] = defaultdict(list)
        for i in ours:
            for name in self.tags[i].get(inner, ()):
                by_inner[name].append(i)
        if len(by_inner) < 2:
            return []
        worst = max(by_inner.values(), key=lambda places: sum(self.z[i] for i in places))
        dropped = set(worst)
        return [i for i in ours if i not in dropped]

    def holds(self, rise: LevelRise) -> bool:
        """Whether a rise is the level's own, and not one of its parts' or of everything."""
        if not rise.flagged:
            return False
        if rise.factor in WITHIN:
            # Without its worst part it is still higher than chance explains.
            rest, error = rise.without_worst, rise.without_worst_error
            if rest is None or error is None:
                return False
            if rest < max(LEAST_RISE, 0.4 * rise.mean, SURE_OF_REST * error):
                return False
        if rise.beside is None:
            # What every reading shares is told from nothing; the brewery as a whole may be high.
            return rise.factor in ("brewery", "vessel", "point")
        return rise.mean - rise.beside >= max(LEAST_RISE, 2.5 * rise.error)

    def broadest(self, left: frozenset[int]) -> Suspect | None:
        rises = self.rises(left)
        for factors in ORDER:
            held = [rise for rise in rises if rise.factor in factors and self.holds(rise)]
            # A blame that another thing can carry as well is never put on a person.
            held.sort(key=lambda rise: (rise.factor == "person", -rise.mean / rise.error))
            if held:
                return self.suspect(held[0], held[1:], left)
        return None

    def suspect(
        self, rise: LevelRise, others: Sequence[LevelRise], left: frozenset[int]
    ) -> Suspect:
        ours = frozenset(self.places[rise.factor, rise.level] & left)
        alike = tuple(
            other
            for other in others
            if other.factor != rise.factor
            and other.factor != "brewery"
            and _overlap(ours, self.places[other.factor, other.level] & left) >= ALIKE
        )
        return Suspect(rise=rise, alike=alike, creeping=self.creeps(ours), places=ours)

    def creeps(self, places: Iterable[int]) -> bool:
        """Whether the readings rise along a line rather than in one step."""
        ours = sorted(places, key=lambda i: self.order[i])[-40:]
        if len(ours) < 10:
            return False
        y = [self.z[i] for i in ours]
        line, slope = _line_residual(y)
        return slope > 0 and line < 0.95 * _step_residual(y)


class _Sums:
    """Sums and numbers of readings by factor and week, so that no level is compared one by one."""

    def __init__(self, table: _Table, left: frozenset[int]) -> None:
        self.table = table
        self.by_week: dict[tuple[Factor, str], list[float]] = defaultdict(lambda: [0.0, 0])
        self.whole: dict[Factor, list[float]] = defaultdict(lambda: [0.0, 0])
        self.week = [next(iter(tags.get("week", ())), "") for tags in table.tags]
        for i in left:
            for factor, names in table.tags[i].items():
                if names:
                    for kept in (self.by_week[factor, self.week[i]], self.whole[factor]):
                        kept[0] += table.z[i]
                        kept[1] += 1

    def beside(self, factor: Factor, ours: Sequence[int]) -> float | None:
        """The mean of other levels' readings, of the same weeks where there are enough."""
        total = math.fsum(self.table.z[i] for i in ours)
        weeks = [self.by_week[factor, week] for week in {self.week[i] for i in ours}]
        for kept in (
            [sum(one[0] for one in weeks), sum(one[1] for one in weeks)],
            self.whole[factor],
        ):
            others = kept[1] - len(ours)
            if others >= (LEAST_READINGS if kept is not self.whole[factor] else 1):
                return (kept[0] - total) / others
        return None


def _overlap(one: frozenset[int], other: Iterable[int]) -> float:
    both = set(other)
    return len(one & both) / max(1, len(one | both))


def _line_residual(y: Sequence[float]) -> tuple[float, float]:
    """Sum of squares left by a straight line over the places, and its slope."""
    n = len(y)
    x_mean, y_mean = (n - 1) / 2, math.fsum(y) / n
    across = math.fsum((i - x_mean) ** 2 for i in range(n))
    slope = math.fsum((i - x_mean) * (v - y_mean) for i, v in enumerate(y)) / across
    left = math.fsum((v - y_mean - slope * (i - x_mean)) ** 2 for i, v in enumerate(y))
    return left, slope


def _step_residual(y: Sequence[float]) -> float:
    """Sum of squares left by two levels with the best step between them."""
    return min(_off(y[:k]) + _off(y[k:]) for k in range(1, len(y)))


def _off(y: Sequence[float]) -> float:
    mean = math.fsum(y) / len(y)
    return math.fsum((v - mean) ** 2 for v in y)
