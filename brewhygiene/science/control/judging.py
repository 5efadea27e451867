"""One phase of a chart: limits from its baseline, later readings judged by them, signals."""

import dataclasses
import math
from collections.abc import Iterable, Sequence
from typing import Literal

from brewhygiene.science.control.cusum import ALLOWANCE, DECISION, Cusum, cusum
from brewhygiene.science.control.ewma import WEIGHT, WIDTH, Ewma, ewma
from brewhygiene.science.control.individuals import LEAST_FOR_LIMITS, Individuals, phase_one
from brewhygiene.science.control.onset import step_onset
from brewhygiene.science.control.rules import BEYOND_3, RunRule, run_rules
from brewhygiene.science.errors import TooFewReadings

# How many readings of a phase set its limits, where nothing else is stated.
BASELINE = 20
# Further out than this, one reading says no more to EWMA and CUSUM: a single spike is no trend,
# and the rule for single readings tells of it.
DRAWN_IN = 3.5
CUSUM_CEILING = 2 * DECISION
EWMA_RULE, CUSUM_RULE = "ewma", "cusum"

Direction = Literal["up", "down", "none"]


@dataclasses.dataclass(frozen=True)
class Design:
    """How a phase is judged: weights and widths without a unit, the CUSUM's in sigmas."""

    weight: float = WEIGHT
    width: float = WIDTH
    allowance: float = ALLOWANCE
    decision: float = DECISION
    rules: tuple[RunRule, ...] = (BEYOND_3,)


USUAL = Design()


@dataclasses.dataclass(frozen=True)
class Signal:
    """A stretch of readings that one rule points out.

    ``since`` is where the change seems to have begun, ``found`` where the rule first said so and
    ``last`` the last place at which it did: places in the phase, from 0. ``strength`` is how far
    beyond its limit the rule was at most (1 is on it).
    """

    rule: str
    words: str
    direction: Direction
    since: int
    found: int
    last: int
    strength: float

    def on_at(self, place: int) -> bool:
        """Whether the rule still says so at ``place``."""
        return self.last >= place


@dataclasses.dataclass(frozen=True)
class Phase:
    """A phase and what its charts say; values and limits are in the unit of the readings.

    Readings before ``judged_from`` made the limits; EWMA and CUSUM begin there. ``evidence`` is
    how far above its limit the strongest of the two is now (1 is on the limit), upward only.
    ``provisional``: fewer readings than asked for made the limits. ``unsteady``: the moving
    average of the baseline goes beyond its own limits, so that it is no good measure.
    """

    values: tuple[float, ...]
    judged_from: int
    limits: Individuals
    z: tuple[float, ...]
    ewma: Ewma
    cusum: Cusum
    design: Design
    signals: tuple[Signal, ...]
    evidence: float
    provisional: bool
    unsteady: bool

    @property
    def judged(self) -> int:
        """How many readings were judged."""
        return len(self.values) - self.judged_from

    @property
    def signalling(self) -> tuple[Signal, ...]:
        """The signals that are on at the last reading, the strongest first."""
        now = [signal for signal in self.signals if signal.on_at(len(self.values) - 1)]
        return tuple(sorted(now, key=lambda signal: -signal.strength))


def least_sigma_of_counts(values: Sequence[float]) -> float:
    """The spread that rounding to whole RLU gives to log10(RLU+1) around the mean of ``values``.

    A step of one RLU at the mean, over √12. ``values`` are of log10(RLU+1); so is the result.

    >>> round(least_sigma_of_counts([0.0, 0.0]), 4)
    0.0869
    """
    middle = math.fsum(values) / len(values)
    return math.log10(1 + 10**-middle) / math.sqrt(12)


def judge_phase(
    values: Sequence[float],
    *,
    baseline: int | None = None,
    left_out: Iterable[int] = (),
    least: int = LEAST_FOR_LIMITS,
    least_sigma: float = 0.0,
    design: Design = USUAL,
) -> Phase:
    """Set limits from the first readings of a phase and judge the later ones by them.

    ``values`` and ``least_sigma`` in one unit, in time order. The first ``baseline`` readings make
    the limits (20 where none is stated; those at the places ``left_out`` do not count); with
    fewer so far, but ``least`` of them, the limits are ``provisional``. Raises
    :class:`TooFewReadings` where there are fewer yet or all are equal.

    >>> steady = [0.6, 0.5, 0.45, 0.55, 0.4] * 6
    >>> worse = judge_phase([*steady, *(value + 0.5 for value in steady[:5])])
    >>> worse.signalling[0].direction, worse.signalling[0].since
    ('up', 30)
    """
    stated = BASELINE if baseline is None else baseline
    judged_from = min(stated, len(values))
    out = {place for place in left_out if place < judged_from}
    places = [i for i in range(judged_from) if i not in out]
    if len(places) < least and len(values) > judged_from:
        raise TooFewReadings(
            f"The stated baseline has {len(places)} readings. Limits need {least}. Choose a longer "
            "one."
        )
    limits = phase_one(
        [values[i] for i in places],
        least=least,
        least_sigma=least_sigma,
    )
    limits = dataclasses.replace(limits, set_aside=tuple(places[i] for i in limits.set_aside))
    z = tuple((value - limits.centre) / limits.sigma for value in values)
    drawn = [max(-DRAWN_IN, min(DRAWN_IN, one)) for one in z[judged_from:]]
    average = ewma(drawn, centre=0, sigma=1, weight=design.weight, width=design.width)
    sums = cusum(drawn, centre=0, sigma=1, allowance=design.allowance, ceiling=2 * design.decision)
    half = average.upper[0] if drawn else 1.0
    signals = [
        *_ewma_signals(average, half, drawn, judged_from),
        *_cusum_signals(sums, design.decision, drawn, judged_from),
        *_rule_signals(z, judged_from, design.rules),
    ]
    evidence = 0.0
    if drawn:
        evidence = max(0.0, average.average[-1] / half, sums.high[-1] / design.decision)
    return Phase(
        values=tuple(values),
        judged_from=judged_from,
        limits=limits,
        z=z,
        ewma=average,
        cusum=sums,
        design=design,
        signals=tuple(sorted(signals, key=lambda signal: (signal.found, signal.rule))),
        evidence=evidence,
        provisional=len(places) < stated and judged_from == len(values),
        unsteady=_unsteady([z[i] for i in places if i not in limits.set_aside], design),
    )


def _unsteady(z: Sequence[float], design: Design) -> bool:
    """Whether the readings that made the limits drift among themselves."""
    drawn = [max(-DRAWN_IN, min(DRAWN_IN, one)) for one in z]
    average = ewma(drawn, centre=0, sigma=1, weight=design.weight, width=design.width)
    return bool(average.above or average.below)


def _stretches(places: Iterable[int], gap: int = 1) -> Iterable[tuple[int, int]]:
    """First and last of each run of places that are no more than ``gap`` apart."""
    first = last = None
    for place in places:
        if first is None or last is None:
            first = last = place
        elif place - last > gap:
            yield first, last
            first = place
        last = place
    if first is not None and last is not None:
        yield first, last


def _ewma_signals(average: Ewma, half: float, z: Sequence[float], shift: int) -> Iterable[Signal]:
    for direction, places in (("up", average.above), ("down", average.below)):
        for first, last in _stretches(places):
            yield Signal(
                rule=EWMA_RULE,
                words="the moving average (EWMA) is beyond its limit",
                direction="up" if direction == "up" else "down",
                since=shift + step_onset(z, found=first),
                found=shift + first,
                last=shift + last,
                strength=max(abs(one) for one in average.average[first : last + 1]) / half,
            )


def _cusum_signals(
    sums: Cusum, decision: float, z: Sequence[float], shift: int
) -> Iterable[Signal]:
    for up, values in ((True, sums.high), (False, sums.low)):
        places = [i for i, value in enumerate(values) if value > decision]
        for first, last in _stretches(places):
            yield Signal(
                rule=CUSUM_RULE,
                words="the cumulative sum (CUSUM) is beyond its limit",
                direction="up" if up else "down",
                since=shift + step_onset(z, found=first, first=sums.onset(first, up=up)),
                found=shift + first,
                last=shift + last,
                strength=max(values[first : last + 1]) / decision,
            )


def _rule_signals(z: Sequence[float], shift: int, rules: tuple[RunRule, ...]) -> Iterable[Signal]:
    flags = run_rules(z[shift:], rules)
    for rule in rules:
        for up in (True, False, None):
            ours = [flag for flag in flags if flag.rule is rule and flag.up is up]
            since = {flag.at: flag.since for flag in ours}
            for first, last in _stretches(since, gap=1 if rule.n == 1 else rule.n):
                stretch = z[shift + since[first] : shift + last + 1]
                yield Signal(
                    rule=rule.code,
                    words=rule.words,
                    direction="none" if up is None else "up" if up else "down",
                    since=shift + since[first],
                    found=shift + first,
                    last=shift + last,
                    strength=max(abs(one) for one in stretch) / rule.sigmas
                    if rule.sigmas and rule.kind == "beyond"
                    else 1.0,
                )
