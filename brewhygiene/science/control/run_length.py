"""How long a chart runs until it alarms: average run lengths, in readings.

They hold for independent, normal readings judged one by one. Readings of an ATP meter are counts,
and limits set from few readings are off themselves: both make more false alarms than these say
(``tests/simulation`` has how many).
"""

import functools
import itertools
import math

from brewhygiene.science.control.cusum import ALLOWANCE, DECISION
from brewhygiene.science.control.ewma import WEIGHT, WIDTH
from brewhygiene.science.control.rules import BEYOND_3, RunRule
from brewhygiene.science.errors import OutOfRange, require

# States of the Markov chains: the published figures come out to their last digit with these.
STATES = 201


def _below(z: float) -> float:
    """The share of standard normal values below ``z``."""
    return 0.5 * math.erfc(-z / math.sqrt(2))


def _absorbed_after(rows: list[list[float]], start: int) -> float:
    """The mean number of moves until a chain with these transient states is absorbed."""
    import numpy as np  # only where a run length is worked out is there need of it

    matrix = np.eye(len(rows)) - np.asarray(rows)
    return float(np.linalg.solve(matrix, np.ones(len(rows)))[start])


@functools.lru_cache(maxsize=512)
def ewma_run_length(
    *,
    weight: float = WEIGHT,
    width: float = WIDTH,
    shift: float = 0.0,
    spread: float = 1.0,
    two_sided: bool = True,
    states: int = STATES,
) -> float:
    """Average run length of an EWMA with asymptotic limits, in readings.

    By the Markov chain of Brook and Evans. ``weight`` and ``width`` without a unit; the readings'
    mean is ``shift`` sigmas off the centre and their SD ``spread`` times sigma. Where not
    ``two_sided``, only the upper limit alarms and the average is held up at the lower one.
    ``states`` is odd; the error falls with its square. Raises :class:`OutOfRange` where one of
    them cannot be.

    >>> round(ewma_run_length()), round(ewma_run_length(shift=1), 1)
    (500, 10.5)

    References
    ----------
    .. [1] Lucas J.M., Saccucci M.S., Technometrics 32 (1990) 1-12 (from memory).
    .. [2] Brook D., Evans D.A., Biometrika 59 (1972) 539-549 (from memory).
    """
    require("weight of a reading", weight, minimum=0, maximum=1, above=True)
    require("width of the limits", width, minimum=0, above=True)
    require("spread", spread, minimum=0, above=True)
    half = width * math.sqrt(weight / (2 - weight))
    step = 2 * half / states
    middles = [-half + (i + 0.5) * step for i in range(states)]
    rows = []
    for z in middles:
        rest = (1 - weight) * z + weight * shift
        edges = [_below((-half + j * step - rest) / (weight * spread)) for j in range(states + 1)]
        if not two_sided:
            edges[0] = 0.0
        rows.append([b - a for a, b in itertools.pairwise(edges)])
    return _absorbed_after(rows, states // 2)


@functools.lru_cache(maxsize=512)
def cusum_run_length(
    *,
    allowance: float = ALLOWANCE,
    decision: float = DECISION,
    shift: float = 0.0,
    spread: float = 1.0,
    two_sided: bool = True,
    states: int = STATES,
) -> float:
    """Average run length of a tabular CUSUM from 0, in readings.

    By the Markov chain of Brook and Evans; the two sides alarm by themselves. ``allowance`` and
    ``decision`` in sigmas (k and h), as is ``shift``, the mean's distance from the centre;
    ``spread`` is the readings' SD over sigma; upper side only where not ``two_sided``; ``states``
    as in :func:`ewma_run_length`. Raises :class:`OutOfRange` where one of them cannot be.

    >>> round(cusum_run_length()), round(cusum_run_length(shift=1), 1)
    (465, 10.4)

    References
    ----------
    .. [1] Brook D., Evans D.A., Biometrika 59 (1972) 539-549 (from memory).
    .. [2] Montgomery D.C., Introduction to Statistical Quality Control, table 9.3.
    """
    require("allowance", allowance, minimum=0, unit="sigmas")
    require("decision interval", decision, minimum=0, above=True, unit="sigmas")
    require("spread", spread, minimum=0, above=True)
    if two_sided:
        up, down = (
            cusum_run_length(
                allowance=allowance,
                decision=decision,
                shift=one,
                spread=spread,
                two_sided=False,
                states=states,
            )
            for one in (shift, -shift)
        )
        return 1 / (1 / up + 1 / down)
    # State 0 is a sum of 0; the last one ends half a step beyond its middle, at the decision.
    step = 2 * decision / (2 * states - 1)
    rows = []
    for i in range(states):
        drift = i * step + shift - allowance
        edges = [
            0.0,
            *(_below(((j + 0.5) * step - drift) / spread) for j in range(states)),
        ]
        rows.append([b - a for a, b in itertools.pairwise(edges)])
    return _absorbed_after(rows, 0)


@functools.lru_cache(maxsize=64)
def rules_run_length(*, rules: tuple[RunRule, ...], shift: float = 0.0) -> float:
    """Average run length of a chart of single readings with run rules, in readings. Exact.

    A Markov chain whose states are what each rule remembers of the last readings. ``rules`` are
    of m of n beyond a line or of n on one side; ``shift`` in sigmas. Raises :class:`OutOfRange`
    for another kind of rule, for which no such chain is small.

    >>> round(rules_run_length(rules=(BEYOND_3,)), 1)
    370.4

    References
    ----------
    .. [1] Champ C.W., Woodall W.H., Technometrics 29 (1987) 393-399 (from memory).
    """
    sided = tuple(rule for rule in rules if rule.kind in ("beyond", "same_side"))
    if len(sided) < len(rules) or not rules:
        raise OutOfRange("Run lengths are calculated for rules of m of n on one side only.")
    lines = sorted({rule.sigmas for rule in sided})
    cuts = [-math.inf, *(-line for line in reversed(lines) if line), *lines, math.inf]
    if 0.0 not in lines:
        cuts = sorted({*cuts})
    zones = [
        ((low + high) / 2 if math.isfinite(low + high) else _far(low, high), low, high)
        for low, high in itertools.pairwise(cuts)
    ]
    chances = [_below(high - shift) - _below(low - shift) for _, low, high in zones]
    start = tuple(0 for _ in range(2 * len(sided)))
    places: dict[tuple[int, ...], int] = {start: 0}
    queue = [start]
    moves: list[dict[int, float]] = []
    for state in queue:
        row: dict[int, float] = {}
        for (value, _, _), chance in zip(zones, chances, strict=True):
            after = _remembered(state, value, sided)
            if after is None:
                continue
            if after not in places:
                places[after] = len(places)
                queue.append(after)
            row[places[after]] = row.get(places[after], 0.0) + chance
        moves.append(row)
    size = len(places)
    return _absorbed_after([[row.get(j, 0.0) for j in range(size)] for row in moves], 0)


def _far(low: float, high: float) -> float:
    return high - 1 if math.isinf(low) else low + 1


def _remembered(
    state: tuple[int, ...], value: float, rules: tuple[RunRule, ...]
) -> tuple[int, ...] | None:
    """What is remembered after one more reading; ``None`` where a rule alarms.

    For each rule and side, a bit for each of the last n - 1 readings, the newest first; a bit
    that can complete no pattern any more is forgotten, so that few states remain.
    """
    after = []
    for place, bits in enumerate(state):
        rule = rules[place // 2]
        m = rule.n if rule.kind == "same_side" else rule.m
        side = value if place % 2 == 0 else -value
        hit = side > rule.sigmas
        now = (bits << 1) | hit
        if hit and (now & ((1 << rule.n) - 1)).bit_count() >= m:
            return None
        kept = 0
        for age in range(rule.n - 1):
            upto = now & ((1 << (age + 1)) - 1)
            if upto >> age & 1 and upto.bit_count() + rule.n - 1 - age >= m:
                kept |= 1 << age
        after.append(kept)
    return tuple(after)


# Places and weights of Gauss and Hermite's rule with 5 places, for a standard normal value.
_NORMAL = (
    (-2.8569700138728056, 0.011257411327720693),
    (-1.3556261799742659, 0.2220759220056126),
    (0.0, 0.5333333333333333),
    (1.3556261799742659, 0.2220759220056126),
    (2.8569700138728056, 0.011257411327720693),
)
# Sigma from moving ranges is about as uncertain as an SD from so many readings less one.
_RANGES_WORTH = 0.62
_FEW_STATES = 61


@functools.lru_cache(maxsize=256)
def _upward_rates(baseline: int | None) -> tuple[tuple[float, float], ...]:
    """False alarms per reading of EWMA, CUSUM and a reading beyond 3 sigmas, upward, added up.

    Pairs of a weight and a rate over how far the limits may be off, having been set from so many
    readings: the centre by a normal error with SD 1/√n, sigma as an SD with 0.62 (n - 1) degrees
    of freedom (Wilson and Hilferty's approximation).
    """
    if baseline is None:
        return ((1.0, _upward_rate(shift=0.0, spread=1.0)),)
    freedom = _RANGES_WORTH * (baseline - 1)
    found = []
    for off, off_weight in _NORMAL:
        for t, t_weight in _NORMAL:
            cube = max(0.05, 1 - 2 / (9 * freedom) + t * math.sqrt(2 / (9 * freedom)))
            ratio = math.sqrt(cube**3)
            rate = _upward_rate(shift=-off / math.sqrt(baseline) / ratio, spread=1 / ratio)
            found.append((off_weight * t_weight, rate))
    return tuple(found)


def _upward_rate(*, shift: float, spread: float) -> float:
    ewma = ewma_run_length(shift=shift, spread=spread, two_sided=False, states=_FEW_STATES)
    cusum = cusum_run_length(shift=shift, spread=spread, two_sided=False, states=_FEW_STATES)
    return 1 / ewma + 1 / cusum + 1 - _below((3 - shift) / spread)


def false_alarm_chance(
    *, readings: float, baseline: int | None = None, rules: tuple[RunRule, ...] = (BEYOND_3,)
) -> float:
    """The chance that a steady point is said to get worse, from 0 to 1; an upper bound.

    1 - exp(-rate · readings), with the upward alarms of EWMA, CUSUM and run rules added up though
    they often alarm together. ``readings`` is how many are judged. Where the limits come from
    ``baseline`` readings (5 or more), it is averaged over how far they may be off; ``None`` means
    limits that are exactly right. ``rules`` other than m of n on one side add nothing here.
    Raises :class:`OutOfRange` for readings below 0 or a baseline below 5.

    >>> round(false_alarm_chance(readings=60), 2)
    0.19
    >>> round(false_alarm_chance(readings=60, baseline=20), 2)
    0.38
    """
    require("readings", readings, minimum=0)
    if baseline is not None:
        require("readings of the baseline", baseline, minimum=5)
    sided = tuple(rule for rule in rules if rule.kind in ("beyond", "same_side"))
    more = 1 / (2 * rules_run_length(rules=sided)) if sided else 0.0
    more -= 1 - _below(3)
    return math.fsum(
        weight * (1 - math.exp(-max(0.0, rate + more) * readings))
        for weight, rate in _upward_rates(baseline)
    )
