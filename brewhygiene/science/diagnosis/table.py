"""Two by two: a verdict held against what was so, and how far its figures may be off."""

import dataclasses
import math

from brewhygiene.science.counting.poisson import CONFIDENCE, Interval
from brewhygiene.science.diagnosis.shares import Share, share_of
from brewhygiene.science.errors import TooFewReadings, require


@dataclasses.dataclass(frozen=True)
class Estimate:
    """A number with its interval."""

    value: float
    interval: Interval


@dataclasses.dataclass(frozen=True)
class NotEstimable:
    """Why a figure is not shown, and what would allow it."""

    why: str


@dataclasses.dataclass(frozen=True)
class TwoByTwo:
    """Counts of cases: the verdict said so or not, and it was so or not.

    ``hits`` said and so (true positives), ``false_alarms`` said and not so, ``misses`` so and
    not said, ``quiet`` neither (true negatives).
    """

    hits: int
    false_alarms: int
    misses: int
    quiet: int

    def __post_init__(self) -> None:
        for name, count in dataclasses.asdict(self).items():
            require(f"number of {name.replace('_', ' ')}", count, minimum=0, maximum=1e9)

    @property
    def so(self) -> int:
        return self.hits + self.misses

    @property
    def not_so(self) -> int:
        return self.false_alarms + self.quiet

    @property
    def said(self) -> int:
        return self.hits + self.false_alarms

    @property
    def not_said(self) -> int:
        return self.misses + self.quiet

    @property
    def all(self) -> int:
        return self.so + self.not_so


@dataclasses.dataclass(frozen=True)
class Words:
    """What the cases and the verdict are called in sentences."""

    so: str = "positive"
    not_so: str = "negative"
    said: str = "said to be positive"
    not_said: str = "said to be negative"


@dataclasses.dataclass(frozen=True)
class Diagnosis:
    """Every figure of a table, or why it cannot be estimated.

    Shares from 0 to 1: ``sensitivity`` of those that are so, how many were said; ``specificity``
    of those not so, how many were not said; ``ppv`` and ``npv`` of those said, and not said, how
    many rightly; ``accuracy`` of all, how many rightly; ``prevalence`` of all, how many are so.
    ``kappa`` is agreement beyond chance; the likelihood ratios say by how much a verdict
    changes the odds.
    """

    table: TwoByTwo
    sensitivity: Share | NotEstimable
    specificity: Share | NotEstimable
    ppv: Share | NotEstimable
    npv: Share | NotEstimable
    accuracy: Share | NotEstimable
    prevalence: Share | NotEstimable
    kappa: Estimate | NotEstimable
    ratio_said: Estimate | NotEstimable
    ratio_not_said: Estimate | NotEstimable


def diagnose(
    table: TwoByTwo, *, words: Words | None = None, confidence: float = CONFIDENCE
) -> Diagnosis:
    """Every figure of ``table`` with its interval at ``confidence`` (a share).

    A figure that the table does not carry is an :class:`NotEstimable` with a sentence in ``words``.
    Shares have Wilson's and the exact interval; kappa [1]_ and the likelihood ratios [2]_ the
    normal one, of themselves and of their logarithm.

    >>> found = diagnose(TwoByTwo(hits=670, false_alarms=202, misses=74, quiet=640))
    >>> round(found.sensitivity.value, 4), round(found.ratio_said.value, 3)
    (0.9005, 3.754)

    References
    ----------
    .. [1] J. L. Fleiss, J. Cohen, B. S. Everitt, Psychol. Bull. 72 (1969) 323-327 (from memory).
    .. [2] D. L. Simel, G. P. Samsa, D. B. Matchar, J. Clin. Epidemiol. 44 (1991) 763-770 (from
           memory).
    """
    said = words or Words()
    lacks = {
        "so": f"None was {said.so}. This figure needs at least one.",
        "not_so": f"None was {said.not_so}. This figure needs at least one.",
        "said": f"None was {said.said}. This figure needs at least one.",
        "not_said": f"None was {said.not_said}. This figure needs at least one.",
        "all": "There is no pair. This figure needs at least one.",
    }

    def share(count: int, of: str) -> Share | NotEstimable:
        total: int = getattr(table, of)
        if total == 0:
            return NotEstimable(lacks[of])
        return share_of(count=count, of=total, confidence=confidence)

    return Diagnosis(
        table=table,
        sensitivity=share(table.hits, "so"),
        specificity=share(table.quiet, "not_so"),
        ppv=share(table.hits, "said"),
        npv=share(table.quiet, "not_said"),
        accuracy=share(table.hits + table.quiet, "all"),
        prevalence=share(table.so, "all"),
        kappa=_kappa(table, said, confidence),
        ratio_said=_ratio(table.hits, table.so, table.false_alarms, table.not_so, said, confidence),
        ratio_not_said=_ratio(table.misses, table.so, table.quiet, table.not_so, said, confidence),
    )


def _kappa(table: TwoByTwo, words: Words, confidence: float) -> Estimate | NotEstimable:
    try:
        kappa = kappa_of(table, confidence=confidence)
    except TooFewReadings:
        return NotEstimable(
            f"Agreement beyond chance needs some that are {words.so} and some {words.not_so}, and "
            f"some {words.said} and some {words.not_said}."
        )
    if kappa.interval.low == kappa.interval.high:
        always = "agree" if kappa.value > 0 else "disagree"
        return NotEstimable(
            f"The two {always} in every pair. This figure needs a pair where they do not."
        )
    return kappa


def kappa_of(table: TwoByTwo, *, confidence: float = CONFIDENCE) -> Estimate:
    """Cohen's kappa: agreement beyond what chance gives, 1 at the most, with its interval.

    Without a single disagreement the interval is the bare value: it then tells nothing. Raises
    :class:`TooFewReadings` where either side is the same for all cases: chance then explains
    everything.

    >>> round(kappa_of(TwoByTwo(hits=44, false_alarms=6, misses=3, quiet=97)).value, 3)
    0.863
    """
    if 0 in (table.so, table.not_so, table.said, table.not_said):
        raise TooFewReadings(
            "Agreement beyond chance needs both answers on both sides. Here one side is the same "
            "for all."
        )
    n = table.all
    cells = [[table.hits / n, table.false_alarms / n], [table.misses / n, table.quiet / n]]
    rows = [sum(row) for row in cells]
    columns = [cells[0][i] + cells[1][i] for i in (0, 1)]
    agree = cells[0][0] + cells[1][1]
    chance = sum(r * c for r, c in zip(rows, columns, strict=True))
    kappa = (agree - chance) / (1 - chance)
    diagonal = sum(cells[i][i] * (1 - (rows[i] + columns[i]) * (1 - kappa)) ** 2 for i in (0, 1))
    across = (1 - kappa) ** 2 * sum(
        cells[i][j] * (columns[i] + rows[j]) ** 2 for i in (0, 1) for j in (0, 1) if i != j
    )
    rest = (kappa - chance * (1 - kappa)) ** 2
    variance = max(0.0, diagonal + across - rest) / (n * (1 - chance) ** 2)
    half = _z(confidence) * math.sqrt(variance)
    return Estimate(kappa, Interval(max(-1.0, kappa - half), min(1.0, kappa + half)))


def _ratio(
    of_so: int, so: int, of_not: int, not_so: int, words: Words, confidence: float
) -> Estimate | NotEstimable:
    if not so or not not_so:
        lacking = words.not_so if so else words.so
        return NotEstimable(f"None was {lacking}. This figure needs at least one.")
    if 0 in (of_so, so - of_so, of_not, not_so - of_not):
        # A share of none or all would pass for known exactly, and the range come out too narrow.
        return NotEstimable(
            "A cell of the table is empty, so there is no ratio. It needs at least one pair in "
            "each of the four."
        )
    ratio = (of_so / so) / (of_not / not_so)
    spread = _z(confidence) * math.sqrt(1 / of_so - 1 / so + 1 / of_not - 1 / not_so)
    return Estimate(ratio, Interval(ratio * math.exp(-spread), ratio * math.exp(spread)))


def _z(confidence: float) -> float:
    from statistics import NormalDist

    return NormalDist().inv_cdf((1 + confidence) / 2)
