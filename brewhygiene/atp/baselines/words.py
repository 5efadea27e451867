"""The words about methods of limits: what each does, and how it performs in simulation."""

import dataclasses

from brewhygiene.quantities.style import digits
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
    RAW: "Assumes normal readings. RLU rarely are: one bad clean raises the limit for all.",
    LOGS: "Assumes normal logs, as readings grow by factors. With fewer readings k is larger.",
    PERCENTILE: "The reading with the chosen share below it. It needs no distribution and gives no "
    "confidence.",
    TOLERANCE: "One of the highest readings. The chosen share of clean readings lies below it with "
    "the chosen confidence, for any distribution.",
    COUNTS: "Treats RLU as counts that vary more than Poisson counts. A 0 is an ordinary count.",
    LOGNORMAL: "Treats each 0 as a light below 1 RLU that the meter cannot show.",
}


@dataclasses.dataclass(frozen=True)
class Simulated:
    """Minimum and maximum over three distributions of clean readings, for one limit and size.

    ``above`` is the share in % of later clean readings above the limit, ``sure`` how many of
    100 baselines give a limit that covers its share (95 % the alert level, 99 % the action
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
    """The result of the simulation of a method."""
    found = SIMULATED[code]
    return (
        f"In simulation with {found.readings} readings, {_between(*found.above, 1)} % of clean "
        f"readings lay above its {LIMIT_WORDS[found.level]}. {_between(*found.sure, 0)} of 100 "
        "such limits covered their share."
    )


def p_words(p: float) -> str:
    """A p value as it is written: 'p = 0.03', 'p < 0.001'.

    >>> p_words(0.03), p_words(0.00002)
    ('p = 0.03', 'p < 0.001')
    """
    return f"p < {digits(0.001, 'g')}" if p < 0.001 else f"p = {digits(p, '.2g')}"


def rlu_words(value: float) -> str:
    """RLU that need not be whole, with as many digits as help.

    >>> rlu_words(3.14), rlu_words(41.7)
    ('3.1', '42')
    """
    return f"{digits(value, '.1f')}" if value < 10 else f"{digits(value, ',.0f')}"
