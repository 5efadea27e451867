"""Which of several shares differ from the rest by more than chance: a funnel plot.

A vessel with few turnarounds varies widely by chance alone, so each is held against limits that
are wide for few and narrow for many.
"""

import dataclasses
import math
from collections.abc import Sequence

from brewhygiene.science.errors import OutOfRange, TooFewReadings, require

# Nineteen in twenty, and 998 in a thousand (about two and three standard errors).
INNER = 0.95
OUTER = 0.998
WINSORISED = 0.1
FEWEST_FOR_PHI = 5  # our rule


@dataclasses.dataclass(frozen=True)
class Limits:
    """Between ``low`` and ``high`` (shares, 0 to 1) chance alone explains a share of ``number``."""

    number: int
    low: float
    high: float


@dataclasses.dataclass(frozen=True)
class Place:
    """One of those compared, with its limits. ``z`` is how many standard errors it is off.

    ``outside`` is 0 within the inner limits, 1 beyond the inner, 2 beyond the outer ones;
    negative below.
    """

    name: str
    count: int
    number: int
    share: float
    z: float
    inner: Limits
    outer: Limits
    outside: int


@dataclasses.dataclass(frozen=True)
class Funnel:
    """All those compared, with the share of all together, ``target``.

    ``phi`` is how much wider they scatter than chance explains (1: just as much);
    ``phi_raw`` the same without drawing the outermost in. ``stretched`` says whether the limits
    were widened for it, because everybody differs somewhat from everybody.
    """

    target: float
    phi: float
    phi_raw: float
    stretched: bool
    places: tuple[Place, ...]


def binomial_quantile(*, number: int, target: float, below: float) -> float:
    """The share that a part ``below`` (a share, 0.0001–0.9999) of all samples stays under.

    For ``number`` (units counted) with a true share ``target``, above 0 and below 1: the exact
    binomial quantile r, interpolated to (r - α)/n with α = (F(r) - p)/(F(r) - F(r-1)) [1]_. It
    may lie a part of one unit below 0. Raises :class:`OutOfRange` outside these ranges.

    >>> round(binomial_quantile(number=418, target=0.9796644243408336, below=0.025), 4)
    0.9639

    References
    ----------
    .. [1] D. J. Spiegelhalter, Funnel plots for comparing institutional performance, Stat. Med.
           24 (2005) 1185-1202, appendix A.1 (formula from memory).
    """
    import numpy as np  # only pages with rates need it
    from scipy.special import bdtr

    require("number", number, minimum=1, maximum=1e6)
    require("target", target, minimum=0, maximum=1, above=True)
    require("part below", below, minimum=0.0001, maximum=0.9999)
    reached = bdtr(np.arange(number + 1), number, target)
    r = min(int(np.searchsorted(reached, below)), number)
    before = float(reached[r - 1]) if r else 0.0
    return (r - (float(reached[r]) - below) / (float(reached[r]) - before)) / number


def binomial_limits(
    *, number: int, target: float, within: float = INNER, phi: float = 1.0
) -> Limits:
    """Between which shares chance alone keeps ``within`` (a share, 0.5–0.9999) of all samples.

    For ``number`` (units counted) with a true share ``target``, 0 to 1. The lower limit is the
    interpolated quantile of those counted, the upper one that of those not counted: then all of
    a few is no more outside than chance makes it, as it would be by the upper quantile itself.
    Both are cut at 0 and 1. ``phi`` of at least 1, the over-dispersion, stretches them from the
    target by its root [1]_. Raises :class:`OutOfRange` outside these ranges.

    >>> found = binomial_limits(number=3, target=0.9)
    >>> round(found.low, 4), found.high
    (0.2963, 1.0)

    References
    ----------
    .. [1] D. J. Spiegelhalter, Handling over-dispersion of performance indicators, Qual. Saf.
           Health Care 14 (2005) 347-351 (from memory).
    """
    require("number", number, minimum=1, maximum=1e6)
    require("target", target, minimum=0, maximum=1)
    require("share within", within, minimum=0.5, maximum=0.9999)
    require("over-dispersion", phi, minimum=1)
    if target in (0.0, 1.0):
        return Limits(number, target, target)
    tail = (1 - within) / 2
    low = binomial_quantile(number=number, target=target, below=tail)
    high = 1 - binomial_quantile(number=number, target=1 - target, below=tail)
    low, high = (target + math.sqrt(phi) * (end - target) for end in (low, high))
    return Limits(number, max(0.0, low), min(1.0, high))


def over_dispersion(
    *, counts: Sequence[int], numbers: Sequence[int], winsorised: float = WINSORISED
) -> tuple[float, float]:
    """How much wider shares scatter than chance explains: φ, and φ without winsorising.

    The mean square of the z of each of ``counts`` in ``numbers`` (units counted), the outermost
    share ``winsorised`` (0–0.4) at each end drawn in to the quantile there, so that the one that
    is sought does not hide itself [1]_. Below 1 it is said as it is. Raises
    :class:`TooFewReadings` where there is nothing to compare.

    References
    ----------
    .. [1] D. J. Spiegelhalter, Handling over-dispersion of performance indicators, Qual. Saf.
           Health Care 14 (2005) 347-351 (from memory).

    >>> phi, raw = over_dispersion(counts=[5, 5, 5, 15], numbers=[20, 20, 20, 20])
    >>> round(phi, 2), round(raw, 2)
    (2.08, 4.0)
    """
    import numpy as np

    require("share drawn in", winsorised, minimum=0, maximum=0.4)
    z = np.array(z_scores(counts=counts, numbers=numbers))
    drawn_in = np.clip(z, *np.quantile(z, [winsorised, 1 - winsorised]))
    return float(np.mean(drawn_in**2)), float(np.mean(z**2))


def z_scores(*, counts: Sequence[int], numbers: Sequence[int]) -> list[float]:
    """How many standard errors each of ``counts`` in ``numbers`` (units counted) is off.

    Off from the share of all together. Raises :class:`TooFewReadings` with fewer than two to
    compare or where all or none were counted, since then nobody differs.

    >>> [round(z, 2) for z in z_scores(counts=[5, 15], numbers=[20, 20])]
    [-2.24, 2.24]
    """
    if len(numbers) < 2:
        raise TooFewReadings("There is only one. A comparison needs at least two.")
    for count, number in zip(counts, numbers, strict=True):
        require("number", number, minimum=1)
        if not 0 <= count <= number:
            raise OutOfRange(
                f"{count} of {number} is not a share. Enter a count from 0 to {number}."
            )
    target = sum(counts) / sum(numbers)
    if target in (0.0, 1.0):
        raise TooFewReadings("All are equal, so there is no difference to compare.")
    return [
        (count / number - target) / math.sqrt(target * (1 - target) / number)
        for count, number in zip(counts, numbers, strict=True)
    ]


def funnel(*, names: Sequence[str], counts: Sequence[int], numbers: Sequence[int]) -> Funnel:
    """Compare ``names`` by their ``counts`` in ``numbers`` (units counted).

    Limits of 95 % and 99.8 % around the share of all together. They are stretched for
    over-dispersion where φ is above 1 + 2·√(2/I) for I compared, five or more: where it is that
    far above 1, chance does not explain it [1]_ [2]_. The outermost at either end are drawn in for
    φ, a tenth and one at the least: else one bad vessel among eight would hide itself. Raises
    :class:`TooFewReadings` as :func:`z_scores` does.

    References
    ----------
    .. [1] D. J. Spiegelhalter, Funnel plots for comparing institutional performance, Stat. Med.
           24 (2005) 1185-1202.
    .. [2] The threshold: two standard errors of φ when there is none, from the variance 2 I of
           a χ² with I degrees of freedom; our rule.
    """
    z = z_scores(counts=counts, numbers=numbers)
    target = sum(counts) / sum(numbers)
    drawn_in = min(0.4, max(WINSORISED, 1 / (len(names) - 1)))
    phi, raw = over_dispersion(counts=counts, numbers=numbers, winsorised=drawn_in)
    stretched = len(names) >= FEWEST_FOR_PHI and phi > 1 + 2 * math.sqrt(2 / len(names))
    used = phi if stretched else 1.0
    found: dict[tuple[int, float], Limits] = {}
    places = []
    for name, count, number, off in zip(names, counts, numbers, z, strict=True):
        for within in (INNER, OUTER):
            if (number, within) not in found:
                found[number, within] = binomial_limits(
                    number=number, target=target, within=within, phi=used
                )
        inner, outer = found[number, INNER], found[number, OUTER]
        places.append(
            Place(
                name=name,
                count=count,
                number=number,
                share=count / number,
                z=off,
                inner=inner,
                outer=outer,
                outside=_outside(count / number, inner, outer),
            )
        )
    return Funnel(target, phi, raw, stretched, tuple(places))


def _outside(share: float, inner: Limits, outer: Limits) -> int:
    if share < outer.low or share > outer.high:
        return -2 if share < outer.low else 2
    if share < inner.low or share > inner.high:
        return -1 if share < inner.low else 1
    return 0
