"""Control charts against published examples: limits, EWMA, CUSUM, run rules, run lengths."""

from collections.abc import Callable

import pytest

from brewhygiene.science.control.cusum import cusum
from brewhygiene.science.control.ewma import ewma
from brewhygiene.science.control.individuals import D2, D4, individuals
from brewhygiene.science.control.rules import (
    ALTERNATING_14,
    BEYOND_3,
    FOUR_OF_FIVE,
    OUTSIDE_8,
    SIDE_8,
    SIDE_9,
    TREND_6,
    TWO_OF_THREE,
    WITHIN_15,
    RunRule,
    run_rules,
    same_side,
)
from brewhygiene.science.control.run_length import (
    cusum_run_length,
    ewma_run_length,
    rules_run_length,
)

NIST = "NIST/SEMATECH e-Handbook of Statistical Methods (2012 ed., doi:10.18434/M32189)"
IMR = f"{NIST}, 6.3.2.2, flow rate of 10 batches (read in public test files that quote it)"
EWMA = f"{NIST}, 6.3.2.4, 20 observations (read in public test files that quote it)"
EWMA_EXACT = f"R qcc 2.7, ewma(), on the data of {NIST}, 6.3.2.4"
CUSUM = (
    "Montgomery D.C., Introduction to Statistical Quality Control, tables 9.1 and 9.2 (read in "
    "public test files; lower column by R qcc 2.7)"
)
C_CHART = f"{NIST}, 6.3.3.1, wafer defects (read in a public validation file)"
P_CHART = f"{NIST}, 6.3.3.2, chips failing (read in a public validation file)"
CONSTANTS = "ASTM STP 15D / ISO 7870-2, factors for n = 2 (from memory)"
FLAGS = (
    "hand-made sequences for the rules of Nelson (1984) and Western Electric (1956), from memory; "
    "agreed by PyPI shewhart 0.1.1"
)
EWMA_ARL = (
    "Lucas and Saccucci, Technometrics 32 (1990) 1-12: pairs and printed values from memory; "
    "R spc 0.6.7, xewma.arl"
)
CUSUM_ARL = "Montgomery, table 9.3 (printed values from memory); R spc 0.6.7, xcusum.arl"
RULES_ARL = (
    "Champ and Woodall, Technometrics 29 (1987) 393-399, table 1: 91.75 and 371 read, the rest "
    "from memory"
)

FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
# fmt: off
TWENTY = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
    49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
]
TWENTY_AVERAGED = [
    50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
]
THIRTY = [
    9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.2, 10.34,
    9.03, 11.47, 10.51, 9.4, 10.08, 9.37, 10.62, 10.31, 8.52, 10.84,
    10.9, 9.33, 12.29, 11.5, 10.6, 11.08, 10.38, 11.62, 11.31, 10.52,
]
HIGH = [
    0, 0, 0, 1.16, 2.82, 2.5, 0.04, 1.0, 0, 0, 0, 0.97, 0.98, 0, 0, 0, 0.12, 0, 0, 0.34,
    0.74, 0, 1.79, 2.79, 2.89, 3.47, 3.35, 4.47, 5.28, 5.3,
]
LOW = [
    0.05, 1.56, 1.77, 0, 0, 0, 1.46, 0, 0.3, 0, 0.47, 0, 0, 0.1, 0, 0.13, 0, 0, 0.98, 0,
    0, 0.17, 0, 0, 0, 0, 0, 0, 0, 0,
]
WAFERS = [
    16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20,
    11, 19, 16, 31, 13,
]
CHIPS = [
    12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11,
    20, 18, 24, 15, 9, 12, 7, 13, 9, 6,
]
SEQUENCES: list[tuple[RunRule, list[float], list[int]]] = [
    (BEYOND_3, [0.2, -0.5, 3.1, 0.1, -3.2, 0.4, 3.0], [3, 5]),
    (TWO_OF_THREE, [0.1, 2.1, 0.3, 2.2, -0.2, -2.1, -2.3, 0.0, 2.0], [4, 7]),
    (FOUR_OF_FIVE,
     [1.1, 1.2, 0.4, 1.3, 1.4, -0.2, -1.1, -1.2, -1.3, -1.4, 0.5], [5, 10]),
    (SIDE_8, [0.1, 0.2, 0.3, 0.1, 0.5, 0.2, 0.4, 0.3, 0.2, -0.1, 0.2], [8, 9]),
    (SIDE_9,
     [-0.1, -0.2, -0.3, -0.1, -0.5, -0.2, -0.4, -0.3, -0.2, -0.6, 0.2], [9, 10]),
    (TREND_6,
     [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.5, 0.5, 0.4, 0.3, 0.2, 0.1, 0.0], [6, 7, 14]),
    (ALTERNATING_14,
     [0.0, 1.0, 0.1, 0.9, 0.2, 0.8, 0.3, 0.7, 0.35, 0.65, 0.4, 0.6, 0.45, 0.55, 0.5, 0.52, 0.53],
     [14, 15, 16]),
    (WITHIN_15,
     [0.1, -0.2, 0.3, -0.4, 0.5, -0.6, 0.7, -0.8, 0.9, -0.1, 0.2, -0.3, 0.4, -0.5, 0.6, 0.2, 1.2],
     [15, 16]),
    (OUTSIDE_8, [1.2, -1.3, 1.4, -1.5, 1.6, 1.2, -1.1, 1.3, -1.4, 0.5], [8, 9]),
]
# fmt: on


def test_individuals_of_the_flow_rate(published: Callable[..., None]) -> None:
    chart = individuals(FLOW)
    published("centre, flow units", chart.centre, 50.81, IMR, 1e-9)
    published("mean moving range, flow units", chart.moving_range_mean, 1.8778, IMR, 5e-5)
    published("upper limit, flow units", chart.upper, 55.8041, IMR, 5e-5)
    published("lower limit, flow units", chart.lower, 45.8159, IMR, 5e-5)
    published("upper limit of ranges, flow units", chart.moving_range_upper, 6.135, IMR, 5e-4)
    published("sigma from ranges, flow units", chart.sigma, 1.6647, IMR, 5e-5)


def test_constants_of_ranges_of_two(published: Callable[..., None]) -> None:
    published("d2, no unit", D2, 1.128, CONSTANTS, 0.0006)
    published("D4, no unit", D4, 3.267, CONSTANTS, 0.0006)
    published("E2 = 3/d2, no unit", 3 / D2, 2.66, CONSTANTS, 0.002)


def test_ewma_of_the_handbook(published: Callable[..., None]) -> None:
    chart = ewma(TWENTY, centre=50, sigma=2.0539, weight=0.3, width=3)
    for n, (ours, theirs) in enumerate(zip(chart.average, TWENTY_AVERAGED, strict=True), start=1):
        published(f"EWMA after reading {n}, units of the readings", ours, theirs, EWMA, 0.0051)
    published("upper limit, units of the readings", chart.upper[-1], 52.5884, EWMA, 1e-4)
    published("lower limit, units of the readings", chart.lower[-1], 47.4115, EWMA, 1e-4)
    published("places over a limit", [*chart.above, *chart.below], [], EWMA)


def test_ewma_with_exact_limits(published: Callable[..., None]) -> None:
    chart = ewma(TWENTY, centre=50, sigma=2.0539, weight=0.3, width=3, exact=True)
    published("first upper limit, units of the readings", chart.upper[0], 51.8485, EWMA_EXACT, 1e-4)
    published("first lower limit, units of the readings", chart.lower[0], 48.1515, EWMA_EXACT, 1e-4)


def test_cusum_of_montgomery(published: Callable[..., None]) -> None:
    chart = cusum(THIRTY, centre=10, sigma=1, allowance=0.5)
    for n in range(30):
        published(f"upper sum after reading {n + 1}, sigmas", chart.high[n], HIGH[n], CUSUM, 0.006)
        published(f"lower sum after reading {n + 1}, sigmas", chart.low[n], LOW[n], CUSUM, 0.006)
    signals = [i + 1 for i, value in enumerate(chart.high) if value > 5]
    published("readings with the upper sum over 5 sigmas", signals, [29, 30], CUSUM)
    published("readings that the upper sum is up at reading 29", chart.run_high[28], 7, CUSUM)
    published("first reading after the shift", chart.onset(28) + 1, 23, CUSUM)


@pytest.mark.parametrize("rule, z, places", SEQUENCES, ids=lambda one: getattr(one, "code", ""))
def test_run_rule_completes_where_it_should(
    published: Callable[..., None], rule: RunRule, z: list[float], places: list[int]
) -> None:
    ours = [flag.at + 1 for flag in run_rules(z, [rule])]
    published(f"readings that complete “{rule.words}”", ours, places, FLAGS)


@pytest.mark.parametrize(
    "weight, width, arl",
    [
        (0.4, 3.054, (499.9513386, 14.26276426, 3.521539199, 14.3)),
        (0.25, 2.998, (499.8360035, 11.13550198, 3.613710825, 11.1)),
        (0.2, 2.962, (499.7351222, 10.5416658, 3.743439061, 10.5)),
        (0.1, 2.814, (499.5795501, 10.33066516, 4.362253414, 10.3)),
        (0.05, 2.615, (499.9330057, 11.38280369, 5.224879826, 11.4)),
    ],
)
def test_run_length_of_ewma(
    published: Callable[..., None], weight: float, width: float, arl: tuple[float, ...]
) -> None:
    steady, one, two, printed = arl
    name = f"EWMA {weight}, {width}: readings until an alarm"
    for shift, theirs, within in ((0, steady, 0.5), (1, one, 0.02), (2, two, 0.02)):
        ours = ewma_run_length(weight=weight, width=width, shift=shift, states=401)
        published(f"{name}, shift {shift} sigma", ours, theirs, EWMA_ARL, within)
    ours = ewma_run_length(weight=weight, width=width, shift=1)
    published(f"{name}, printed, shift 1 sigma", ours, printed, EWMA_ARL, 0.06)


@pytest.mark.parametrize(
    "decision, shift, exact, printed",
    [
        (4, 0, 167.6837888, 168),
        (4, 0.25, 74.22402789, 74.2),
        (4, 0.5, 26.63020309, 26.6),
        (4, 0.75, 13.28508838, 13.3),
        (4, 1, 8.38313187, 8.38),
        (4, 1.5, 4.747168199, 4.75),
        (4, 2, 3.342770129, 3.34),
        (4, 2.5, 2.619518912, 2.62),
        (4, 3, 2.194480909, 2.19),
        (4, 4, 1.708457163, 1.71),
        (5, 0, 465.443506, 465),
        (5, 0.25, 139.4936898, 139),
        (5, 0.5, 37.99614319, 38.0),
        (5, 0.75, 17.04832594, 17.0),
        (5, 1, 10.37596992, 10.4),
        (5, 1.5, 5.747217703, 5.75),
        (5, 2, 4.008871061, 4.01),
        (5, 2.5, 3.113688391, 3.11),
        (5, 3, 2.573252051, 2.57),
        (5, 4, 2.012567523, 2.01),
    ],
)
def test_run_length_of_cusum(
    published: Callable[..., None], decision: float, shift: float, exact: float, printed: float
) -> None:
    name = f"CUSUM 0.5, {decision}: readings until an alarm, shift {shift} sigma"
    ours = cusum_run_length(decision=decision, shift=shift, states=401)
    published(name, ours, exact, CUSUM_ARL, 0.05)
    published(f"{name}, printed", ours, printed, CUSUM_ARL, 0.5)


@pytest.mark.parametrize(
    "rules, arl",
    [
        ((BEYOND_3,), 370.4),
        ((BEYOND_3, TWO_OF_THREE), 225.44),
        ((BEYOND_3, FOUR_OF_FIVE), 166.05),
        ((BEYOND_3, SIDE_8), 152.73),
        ((BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE, SIDE_8), 91.75),
    ],
)
def test_run_length_of_run_rules(
    published: Callable[..., None], rules: tuple[RunRule, ...], arl: float
) -> None:
    name = "readings until a false alarm, " + " + ".join(rule.code for rule in rules)
    published(name, rules_run_length(rules=rules), arl, RULES_ARL, 0.01)


@pytest.mark.parametrize(
    "n, alone, with_beyond_3", [(7, 127, 95.7), (8, 255, 152.7), (9, 511, 216.7)]
)
def test_run_length_of_runs_on_one_side(
    published: Callable[..., None], n: int, alone: float, with_beyond_3: float
) -> None:
    source = "2^n - 1 for n in a row on one side, by arithmetic; with 3 sigma from memory"
    ours = rules_run_length(rules=(same_side(n),))
    published(f"readings until a false alarm, {n} on one side", ours, alone, source, 0.01)
    ours = rules_run_length(rules=(BEYOND_3, same_side(n)))
    published(f"the same, and beyond 3 sigma, {n}", ours, with_beyond_3, source, 0.05)
