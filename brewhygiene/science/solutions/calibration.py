"""A site's own calibration: strength from conductivity, fitted to pairs it measured itself.

For a formulated cleaner, or for water and soil as they are there, this beats any published
table. What it was not fitted with it does not know: a bath that took up more carbonate or soil
than the pairs held reads wrong, as with every conductivity.
"""

import dataclasses
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from brewhygiene.science.errors import require
from brewhygiene.science.solutions.conductivity import CARBONATE_WARNING
from brewhygiene.science.working import WorkingLine, shown

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray

LEAST_PAIRS = 4
LEAST_PAIRS_WITH_TEMPERATURE = 5
# Pairs within this of their mean temperature are taken as of one temperature.
ONE_TEMPERATURE_K = 2.0
# Beyond it in either direction α is a number without a meaning; water itself has 0.02 per K.
ALPHA_MAX_PER_K = 0.05
# Condition number above which the columns of a fit say the same thing: six digits would be lost.
CONFOUNDED = 1e6


class CannotFit(ValueError):
    """Pairs that no calibration can be drawn through; the message says why."""


@dataclasses.dataclass(frozen=True)
class Calibration:
    """strength = intercept + slope · κ0, with κ0 = κ / (1 + α (t − t0)).

    ``intercept`` is in ``unit`` (that of the strengths fitted), ``slope`` in ``unit`` per mS/cm,
    ``alpha_per_k`` per K (0 where all pairs had one temperature), ``reference_c`` (t0) °C;
    ``residual_sd`` in ``unit`` with ``degrees_of_freedom``. It holds from ``low_ms_cm`` to
    ``high_ms_cm`` (mS/cm at t0) and ``low_c`` to ``high_c`` °C, and nowhere else.
    ``covariance`` is that of intercept, slope (and α), over the residual variance.
    """

    unit: str
    pairs: int
    intercept: float
    slope: float
    alpha_per_k: float
    reference_c: float
    residual_sd: float
    degrees_of_freedom: int
    low_ms_cm: float
    high_ms_cm: float
    low_c: float
    high_c: float
    covariance: tuple[tuple[float, ...], ...]


@dataclasses.dataclass(frozen=True)
class CalibratedStrength:
    """A strength by the site's calibration, with its standard and expanded (k = 2) uncertainty."""

    strength: float
    standard: float
    expanded: float
    unit: str
    warning: str
    working: tuple[WorkingLine, ...]


def _fitted(
    strengths: "FloatArray", conductivities: "FloatArray", offsets_k: "FloatArray", alpha: float
) -> tuple[float, float, float]:
    """Intercept, slope and sum of squared residuals by least squares for one α."""
    import numpy as np

    at_reference = conductivities / (1 + alpha * offsets_k)
    columns = np.column_stack((np.ones_like(strengths), at_reference))
    intercept, slope = np.linalg.lstsq(columns, strengths)[0]
    residuals = strengths - intercept - slope * at_reference
    return float(intercept), float(slope), float(residuals @ residuals)


def _arrays(
    strengths: Sequence[float], conductivities: Sequence[float], temperatures: Sequence[float]
) -> "tuple[FloatArray, FloatArray, FloatArray]":
    import numpy as np  # only where something is fitted is there need of it

    if not len(strengths) == len(conductivities) == len(temperatures):
        raise CannotFit("Each pair needs a strength, a conductivity and a temperature.")
    if len(strengths) < LEAST_PAIRS:
        raise CannotFit(
            f"{len(strengths)} pairs are too few for a line and its uncertainty. Enter at least "
            f"{LEAST_PAIRS}."
        )
    arrays = (
        np.asarray(strengths, dtype=float),
        np.asarray(conductivities, dtype=float),
        np.asarray(temperatures, dtype=float),
    )
    require("strength of a pair", arrays[0], minimum=0)
    require("conductivity of a pair", arrays[1], unit="mS/cm", minimum=0)
    require("temperature of a pair", arrays[2], unit="°C", minimum=0, maximum=100)
    for name, array in (("strengths", arrays[0]), ("conductivities", arrays[1])):
        if float(np.ptp(array)) <= 1e-9 * float(np.abs(array).max()):
            raise CannotFit(f"All {name} are equal. Measure weaker and stronger solutions too.")
    return arrays


def _best_alpha(
    strengths: "FloatArray", conductivities: "FloatArray", offsets_k: "FloatArray"
) -> float:
    # SciPy takes a fifth of a second and 35 MB; only a fit pays for it.
    from scipy.optimize import minimize_scalar

    found = minimize_scalar(
        lambda alpha: _fitted(strengths, conductivities, offsets_k, alpha)[2],
        bounds=(0.0, ALPHA_MAX_PER_K),
        method="bounded",
        options={"xatol": 1e-10},
    )
    return float(found.x)


def calibrate(
    *,
    strengths: Sequence[float],
    conductivities_ms_cm: Sequence[float],
    temperatures_c: Sequence[float],
    unit: str,
) -> Calibration:
    """A calibration from paired titrations and conductivities, by least squares.

    strength = a + b κ / (1 + α (t − t0)), t0 the lowest temperature; for each α the line is
    solved for directly, and α (0 to 0.05 per K) taken where the squares are least. Where all
    temperatures lie within 2 K of their mean, α is left out and the calibration holds there.

    ``strengths`` as titrated, in ``unit`` (such as ``% w/v``); ``conductivities_ms_cm`` mS/cm,
    not compensated; ``temperatures_c`` °C. Its error is the residual standard deviation, in
    ``unit``. Raises :class:`CannotFit` with fewer than 4 pairs (5 where the temperature varies),
    all strengths or conductivities equal, a strength that does not rise with conductivity, or
    temperatures that cannot be told from strengths,
    :class:`OutOfRange` for a value that cannot be.

    >>> fit = calibrate(strengths=[0.5, 1.0, 2.0, 3.0], conductivities_ms_cm=[25, 49, 93, 134],
    ...                 temperatures_c=[20, 20, 20, 20], unit="% w/w")
    >>> round(fit.slope, 4), round(fit.residual_sd, 3)
    (0.023, 0.039)

    References
    ----------
    .. [1] Draper N.R., Smith H., Applied Regression Analysis, 3rd ed. (1998), ch. 1
       (from memory).
    """
    import numpy as np

    y, kappa, t = _arrays(strengths, conductivities_ms_cm, temperatures_c)
    reference_c, mean_c = float(t.min()), float(t.mean())
    offsets_k = t - reference_c
    one_temperature = float(np.abs(t - mean_c).max()) <= ONE_TEMPERATURE_K
    if not one_temperature and len(y) < LEAST_PAIRS_WITH_TEMPERATURE:
        raise CannotFit(
            f"The pairs' temperatures differ. At least {LEAST_PAIRS_WITH_TEMPERATURE} pairs are "
            "needed to separate temperature from strength."
        )
    alpha = 0.0 if one_temperature else _best_alpha(y, kappa, offsets_k)
    if alpha > ALPHA_MAX_PER_K * 0.9999:
        raise CannotFit(
            "The conductivity rises by more than 5 % per K in these pairs, which no solution "
            "does. Check for swapped temperatures."
        )
    intercept, slope, squares = _fitted(y, kappa, offsets_k, alpha)
    if slope <= 0:
        raise CannotFit(
            "The strength does not rise with the conductivity. Check for swapped pairs."
        )
    divisor = 1 + alpha * offsets_k
    at_reference = kappa / divisor
    columns = [np.ones_like(y), at_reference]
    if not one_temperature:
        columns.append(-slope * at_reference * offsets_k / divisor)
    jacobian = np.column_stack(columns)
    if np.linalg.cond(jacobian / np.linalg.norm(jacobian, axis=0)) > CONFOUNDED:
        raise CannotFit(
            "Strength and temperature rise together in these pairs. Vary one without the other."
        )
    freedom = len(y) - len(columns)
    inverse = np.linalg.inv(jacobian.T @ jacobian)
    return Calibration(
        unit=unit,
        pairs=len(y),
        intercept=intercept,
        slope=slope,
        alpha_per_k=alpha,
        reference_c=reference_c,
        residual_sd=math.sqrt(squares / freedom),
        degrees_of_freedom=freedom,
        low_ms_cm=float(at_reference.min()),
        high_ms_cm=float(at_reference.max()),
        low_c=mean_c - ONE_TEMPERATURE_K if one_temperature else float(t.min()),
        high_c=mean_c + ONE_TEMPERATURE_K if one_temperature else float(t.max()),
        covariance=tuple(tuple(float(cell) for cell in row) for row in inverse),
    )


def calibrated_strength(
    *, calibration: Calibration, conductivity_ms_cm: float, temperature_c: float
) -> CalibratedStrength:
    """A reading's strength by a site's calibration, within the range it was fitted in.

    ``conductivity_ms_cm`` mS/cm as measured (not compensated) at ``temperature_c`` °C; the
    strength is in the unit of the ``calibration``. Its standard uncertainty is that of one more
    titration: residual SD · √(1 + gᵀ C g). Raises :class:`OutOfRange` outside the conductivities
    (at the reference temperature) or temperatures of the pairs.

    >>> fit = calibrate(strengths=[0.5, 1.0, 2.0, 3.0], conductivities_ms_cm=[25, 49, 93, 134],
    ...                 temperatures_c=[20, 20, 20, 20], unit="% w/w")
    >>> round(calibrated_strength(calibration=fit, conductivity_ms_cm=70,
    ...                           temperature_c=21).strength, 2)
    1.5
    """
    c = calibration
    # An allowance for rounding: the pairs themselves lie at the ends of the range.
    slack_c, slack_ms_cm = 1e-9 * c.high_c, 1e-9 * c.high_ms_cm
    require(
        "temperature of the reading", temperature_c, unit="°C", minimum=c.low_c - slack_c,
        maximum=c.high_c + slack_c,
    )  # fmt: skip
    offset_k = temperature_c - c.reference_c
    divisor = 1 + c.alpha_per_k * offset_k
    at_reference = conductivity_ms_cm / divisor
    require(
        f"conductivity brought to {shown(c.reference_c)} °C",
        at_reference,
        unit="mS/cm",
        minimum=c.low_ms_cm - slack_ms_cm,
        maximum=c.high_ms_cm + slack_ms_cm,
    )
    strength = c.intercept + c.slope * at_reference
    gradient = (1.0, at_reference, -c.slope * at_reference * offset_k / divisor)
    spread = math.fsum(
        gradient[i] * cell * gradient[j]
        for i, row in enumerate(c.covariance)
        for j, cell in enumerate(row)
    )
    standard = c.residual_sd * math.sqrt(1 + spread)
    return CalibratedStrength(
        strength=strength,
        standard=standard,
        expanded=2 * standard,
        unit=c.unit,
        warning=CARBONATE_WARNING,
        working=(
            WorkingLine(
                f"conductivity at {shown(c.reference_c)} °C", "κ ÷ (1 + α (t − t0))",
                f"{shown(conductivity_ms_cm)} ÷ (1 + {shown(c.alpha_per_k)} × "
                f"{shown(offset_k)})", at_reference, "mS/cm",
            ),
            WorkingLine(
                "strength", "a + b · κ0",
                f"{shown(c.intercept)} + {shown(c.slope)} × {shown(at_reference)}", strength,
                c.unit,
            ),
            WorkingLine(
                "standard uncertainty", "s · √(1 + gᵀ C g)",
                f"{shown(c.residual_sd)} × √(1 + {shown(spread)})", standard, c.unit,
            ),
        ),
    )  # fmt: skip
