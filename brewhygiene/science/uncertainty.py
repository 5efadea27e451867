"""How far a computed result may be off, from how far what it is computed from may be off."""

import dataclasses
import math
from collections.abc import Callable, Mapping

from brewhygiene.science.errors import require

COVERAGE_FACTOR = 2.0


@dataclasses.dataclass(frozen=True)
class Uncertainty:
    """Standard and expanded uncertainty, in the unit of the result.

    ``expanded`` is ``COVERAGE_FACTOR`` (k = 2) times ``standard``: about 95 of 100 results lie
    that near. ``shares_percent`` names each input with its % of the variance, the largest first.
    """

    standard: float
    expanded: float
    shares_percent: tuple[tuple[str, float], ...]


def standard_from_tolerance(*, tolerance: float) -> float:
    """Standard uncertainty of a value known to lie within ± ``tolerance``, each as likely.

    a/√3 [1]_, in the unit of ``tolerance``. Raises :class:`OutOfRange` below 0.

    >>> round(standard_from_tolerance(tolerance=0.05), 4)
    0.0289

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7.
    """
    return require("tolerance", tolerance, minimum=0) / math.sqrt(3)


def propagated(
    *,
    function: Callable[[Mapping[str, float]], float],
    values: Mapping[str, float],
    standard_uncertainties: Mapping[str, float],
) -> Uncertainty:
    """Uncertainty of ``function(values)`` by the law of propagation, inputs uncorrelated.

    u² = Σ (∂f/∂xᵢ uᵢ)², each term from f(xᵢ ± uᵢ) [1]_. ``values`` are the inputs by name, in
    the units that ``function`` takes, and ``standard_uncertainties`` theirs in the same units;
    one that is left out is exact. First order: good where each input is known to 10 % or so.
    Raises :class:`OutOfRange` for an uncertainty below 0, and what ``function`` raises.

    >>> product = propagated(function=lambda v: v["a"] * v["b"], values={"a": 2, "b": 3},
    ...                      standard_uncertainties={"a": 0.02, "b": 0.04})
    >>> round(product.standard, 3), product.shares_percent[0][0]
    (0.1, 'b')

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 and note 2 of 5.1.3.
    """
    parts: dict[str, float] = {}
    for name, standard in standard_uncertainties.items():
        require(f"uncertainty of {name}", standard, minimum=0)
        above, below = ({**values, name: values[name] + sign * standard} for sign in (1, -1))
        parts[name] = (function(above) - function(below)) / 2
    standard = math.sqrt(math.fsum(part**2 for part in parts.values()))
    shares = sorted(
        ((name, 100 * (part / standard) ** 2) for name, part in parts.items() if part),
        key=lambda share: -share[1],
    )
    return Uncertainty(standard, COVERAGE_FACTOR * standard, tuple(shares))
