"""What a clean place of the invented brewery reads: many zeros, a long tail, places that differ."""

import math
import random
from collections.abc import Mapping

from brewhygiene.cellar.models import SampleKind

# By point: the mean on meter A, RLU. Invented, of a size that a small brewery would know.
MEAN_RLU: Mapping[str, float] = {
    "Last rinse at the cone": 1.8,
    "Last rinse at the outlet": 1.5,
    "Last rinse of one keg in the run": 1.2,
    "Last rinse at the tap": 2.4,
    "Last rinse at the far end": 2.0,
    "Sample valve": 4.2,
    "Racking arm": 3.2,
    "Manway gasket": 4.0,
    "Coupling": 4.8,
}
# Of a negative binomial: the smaller, the more zeros and the longer the tail.
SHAPE: Mapping[str, float] = {SampleKind.RINSE: 1.3, SampleKind.SURFACE: 1.7}
# Of the natural logarithm of what a fault adds.
ADDED_SPREAD = 0.6
# Meter B is of another make.
METER_B_TIMES = 9


def rlu_read(
    chance: random.Random,
    *,
    point: str,
    kind: str,
    adds_rlu: float = 0.0,
    times: float = 1.0,
    meter: str = "a",
) -> int:
    """A reading, in RLU of the meter: a clean point's, negative binomial around its mean.

    Soil that a fault leaves adds about ``adds_rlu`` (lognormal); dim swabs or a dim meter show
    all of it ``times`` as large. Meter B's number is what meter A would have read, on its own
    scale and with its own noise.
    """
    shape = SHAPE[kind]
    light = chance.gammavariate(shape, MEAN_RLU[point] / shape)
    if adds_rlu:
        light += adds_rlu * chance.lognormvariate(0, ADDED_SPREAD)
    read = _poisson(chance, light * times)
    return _on_meter_b(chance, read) if meter == "b" else read


def both_meters(chance: random.Random) -> tuple[int, int]:
    """One place, clean or dirty, read with both meters: RLU of meter A and of meter B."""
    light = chance.lognormvariate(1.9, 1.3)
    return _poisson(chance, light), _on_meter_b(chance, _poisson(chance, light))


def _on_meter_b(chance: random.Random, read: int) -> int:
    return round((read + 0.4) * METER_B_TIMES * chance.lognormvariate(0, 0.18))


def _poisson(chance: random.Random, mean: float) -> int:
    if mean > 60:
        return max(0, round(chance.gauss(mean, math.sqrt(mean))))
    count, left = 0, mean - chance.expovariate(1)
    while left > 0:
        count, left = count + 1, left - chance.expovariate(1)
    return count
