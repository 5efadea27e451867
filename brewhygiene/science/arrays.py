"""A computation of one point, applied to numbers or to whole arrays of them."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, cast

from brewhygiene.science.errors import Numbers

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray


def pointwise(
    function: Callable[..., float], first: Numbers, *others: "Numbers | float | FloatArray"
) -> Numbers:
    """``function`` of each point of its arguments: a float of floats, an array of arrays.

    ``first`` and ``others`` are numbers in whatever unit ``function`` takes; arrays are
    broadcast against each other. Raises what ``function`` raises at the first point where it
    does.

    >>> pointwise(lambda a, b: a + b, 1.0, 2)
    3.0
    """
    if all(isinstance(argument, int | float) for argument in (first, *others)):
        number: Any = float(function(first, *others))
        return cast("Numbers", number)
    import numpy as np  # only where there is an array is there need of it

    found: Any = np.frompyfunc(function, 1 + len(others), 1)(first, *others)
    return cast("Numbers", found.astype(float) if isinstance(found, np.ndarray) else float(found))
