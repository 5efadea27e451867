"""What the pure layer refuses, and how it says so."""

import math
from typing import TYPE_CHECKING, TypeVar

from brewhygiene.science.working import shown

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]
    Numbers = TypeVar("Numbers", float, FloatArray)
else:
    Numbers = TypeVar("Numbers")


class OutOfRange(ValueError):
    """A value outside the range for which a computation is known to hold.

    The message is a sentence for a person. ``quantity``, ``value``, ``minimum``, ``maximum`` and
    ``unit`` say the same as data, where :func:`require` raised it; a bound of ``None`` is none.
    """

    def __init__(
        self,
        message: str,
        *,
        quantity: str = "",
        value: float | None = None,
        minimum: float | None = None,
        maximum: float | None = None,
        unit: str = "",
    ) -> None:
        super().__init__(message)
        self.quantity = quantity
        self.value = value
        self.minimum = minimum
        self.maximum = maximum
        self.unit = unit


class TooFewReadings(ValueError):
    """A trace or a part of it has too few readings for what was asked of it."""


def _rule(minimum: float | None, maximum: float | None, unit: str, *, above: bool) -> str:
    after = f" {unit}" if unit else ""
    if minimum is None and maximum is None:
        return "must be a finite number"
    if minimum is None:
        return f"must be at most {_digits(maximum)}{after}"
    if maximum is None:
        return f"must be {'above' if above else 'at least'} {_digits(minimum)}{after}"
    if above:
        return f"must be above {_digits(minimum)} and at most {_digits(maximum)}{after}"
    return f"must be from {_digits(minimum)} to {_digits(maximum)}{after}"


def _digits(value: float | None) -> str:
    return shown(float(value or 0), significant=6)


def _first_outside(
    value: "float | FloatArray", minimum: float | None, maximum: float | None, *, above: bool
) -> float | None:
    """The first value that is not finite or out of bounds, or ``None``."""
    if isinstance(value, int | float):
        low = minimum is not None and (value <= minimum if above else value < minimum)
        high = maximum is not None and value > maximum
        return None if math.isfinite(value) and not low and not high else value
    import numpy as np  # a tenth of a second that a plain number need not wait for

    flat = np.ravel(value)
    bad = ~np.isfinite(flat)
    if minimum is not None:
        bad |= (flat <= minimum) if above else (flat < minimum)
    if maximum is not None:
        bad |= flat > maximum
    return float(flat[bad][0]) if bad.any() else None


def require(
    quantity: str,
    value: Numbers,
    *,
    unit: str = "",
    minimum: float | None = None,
    maximum: float | None = None,
    above: bool = False,
) -> Numbers:
    """``value`` itself, a number or an array, if all of it is finite and within its bounds.

    ``quantity`` is its name in a person's words, ``unit`` its unit; ``minimum`` and ``maximum``
    belong to the range, unless ``above`` leaves the minimum out. Raises :class:`OutOfRange` with
    the (first) value outside and the allowed range.

    >>> require("temperature", 20, unit="°C", minimum=0, maximum=100)
    20
    >>> require("temperature", 120, unit="°C", minimum=0, maximum=100)
    Traceback (most recent call last):
    ...
    brewhygiene.science.errors.OutOfRange: The temperature is 120 °C. It must be from 0 to 100 °C.
    """
    outside = _first_outside(value, minimum, maximum, above=above)
    if outside is None:
        return value
    after = f" {unit}" if unit else ""
    rule = _rule(minimum, maximum, unit, above=above)
    raise OutOfRange(
        f"The {quantity} is {shown(outside, significant=6)}{after}. It {rule}.",
        quantity=quantity,
        value=outside,
        minimum=minimum,
        maximum=maximum,
        unit=unit,
    )
