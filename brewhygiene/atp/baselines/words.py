"""The words about methods of limits: what each does, and how it keeps its word in simulation."""

import dataclasses

from brewhygiene.science.limits.side_by_side import (
    COUNTS,
    LOGNORMAL,
    LOGS,
    PERCENTILE,
    RAW,
    TOLERANCE,
)

TITLES = {
    RAW: "mean + k SD of RLU",
    LOGS: "mean + k SD of log10(RLU+1)",
    PERCENTILE: "percentile of the readings",
    TOLERANCE: "distribution-free bound",
    COUNTS: "negative binomial fit",
    LOGNORMAL: "lognormal fit, zeros below 1 RLU",
}

SHORT = {
    RAW: "k SD, RLU",
    LOGS: "k SD, logs",
    PERCENTILE: "percentile",
    TOLERANCE: "bound",
    COUNTS: "counts",
    LOGNORMAL: "lognormal",
}

ABOUT = {
    RAW: "Takes readings to lie evenly around their mean. RLU seldom do: one bad clean lifts the "
    "limit for all.",
    LOGS: "Readings grow by factors, and their logs lie more evenly. k grows where readings are "
    "few, so that the limit is sure to cover what it should.",
    PERCENTILE: "The reading with the wanted share below it: no distribution is needed, and "
    "nothing is said of how surely.",
    TOLERANCE: "One of the largest readings, chosen so that the wanted share of all clean "
    "readings is surely below it, whatever their distribution.",
    COUNTS: "Takes RLU as counts that vary more than by chance; a 0 is a count like any other.",
    LOGNORMAL: "Takes each 0 as a light below 1 RLU that the meter cannot show.",
}


@dataclasses.dataclass(frozen=True)
class Simulated:
    """The least and most of three shapes of clean readings, in %, for one level at one size.

    ``above`` is the share of later clean readings above the limit, ``sure`` how many of 100
    baselines give a limit that covers what it should (95 % the alert level, 99 % the action
    limit).
    """

    level: str
    readings: int
    above: tuple[float, float]
    sure: tuple[int, int]


# From fixtures/simulation/limits.csv; a test holds the two together.
SIMULATED = {
    RAW: Simulated("action", 30, (1.8, 3.0), (19, 33)),
    LOGS: Simulated("action", 30, (0.0, 0.6), (84, 100)),
    PERCENTILE: Simulated("action", 120, (0.8, 0.8), (68, 70)),
    TOLERANCE: Simulated("alert", 60, (1.5, 1.6), (96, 97)),
    COUNTS: Simulated("action", 30, (0.9, 3.1), (11, 72)),
    LOGNORMAL: Simulated("action", 30, (0.2, 1.4), (48, 96)),
}

LIMIT_WORDS = {"alert": "alert level", "action": "action limit"}


def _between(low: float, high: float, digits: int) -> str:
    first, last = f"{low:.{digits}f}", f"{high:.{digits}f}"
    return first if first == last else f"{first} to {last}"


def simulated_words(code: str) -> str:
    """What the simulation says of a method, in one sentence."""
    found = SIMULATED[code]
    return (
        f"In simulation with {found.readings} readings, {_between(*found.above, 1)} % of clean "
        f"readings lay above its {LIMIT_WORDS[found.level]}, and {_between(*found.sure, 0)} of "
        "100 such limits covered what they should."
    )


def p_words(p: float) -> str:
    """A p value as it is written: 'p = 0.03', 'p < 0.001'.

    >>> p_words(0.03), p_words(0.00002)
    ('p = 0.03', 'p < 0.001')
    """
    return "p < 0.001" if p < 0.001 else f"p = {p:.2g}"


def rlu_words(value: float) -> str:
    """RLU that need not be whole, with as many digits as help.

    >>> rlu_words(3.14), rlu_words(41.7)
    ('3.1', '42')
    """
    return f"{value:.1f}" if value < 10 else f"{value:,.0f}"
