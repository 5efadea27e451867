"""Pairs of readings as arrays, and the scales on which they are compared."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from brewhygiene.science.errors import OutOfRange, TooFewReadings, require

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray


def paired(
    first: Sequence[float], second: Sequence[float], *, least: int
) -> "tuple[FloatArray, FloatArray]":
    """Both sides of the pairs as arrays, ``first`` and ``second`` in one unit, such as RLU.

    Raises :class:`TooFewReadings` below ``least`` pairs, :class:`OutOfRange` where the sides
    differ in length or a reading is no finite number.
    """
    import numpy as np  # a tenth of a second that only a fit needs

    x, y = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    if x.shape != y.shape or x.ndim != 1:
        raise OutOfRange(
            f"{x.size} readings on one side and {y.size} on the other are not pairs. Exclude those "
            "without a second reading."
        )
    if x.size < least:
        more = least - x.size
        raise TooFewReadings(
            f"There {'is 1 pair' if x.size == 1 else f'are {x.size} pairs'}. At least {least} are "
            f"needed, {more} more."
        )
    return require("first reading", x), require("second reading", y)


def log_of_rlu(rlu: float) -> float:
    """log10(``rlu`` + 1): RLU are counts, a zero is a reading, and the spread grows with them.

    >>> log_of_rlu(0), log_of_rlu(99)
    (0.0, 2.0)
    """
    return math.log10(require("reading", rlu, unit="RLU", minimum=0) + 1)


def rlu_of_log(log_rlu: float) -> float:
    """RLU of ``log_rlu``, log10(RLU + 1); below 0 of it there is no reading but 0 RLU.

    >>> rlu_of_log(2.0)
    99.0
    """
    return max(10 ** require("logarithm", log_rlu, maximum=300) - 1, 0.0)
