"""Pasteurisation units, F0 and A0 against published formulas and pairs.

Provenance of a number: read (seen in the source named or a copy of it), memory (recalled),
computed (worked out from numbers that were read).
"""

from collections.abc import Callable

import numpy as np
import pytest

from brewhygiene.science.tank.lethality import A0, F0, PASTEURISATION, Reference, held, lethality

Published = Callable[..., None]

DEL_VECCHIO = "Del Vecchio et al., Proc. ASBC 1951, 45: PU = t 1.393^(T-60) (formula read)"
F_VALUE = "F0: z 10 K, 121.1 °C (definition from memory, computed)"
ISO_15883 = "ISO 15883-1, A0: 600 s is 10 min at 80 °C or 1 min at 90 °C (from memory)"


@pytest.mark.parametrize(
    "minutes, celsius, units",
    [(15, 60, 15.0), (10, 65, 52.4512), (0.5, 72, 26.6921), (5, 77, 1400.04), (1, 80, 756.872)],
)
def test_pasteurisation_units(
    published: Published, minutes: float, celsius: float, units: float
) -> None:
    ours = held(minutes=minutes, temperature_c=celsius)
    published(f"{minutes:g} min at {celsius} °C, PU", ours, units, DEL_VECCHIO, units * 5e-6)


def test_z_of_pasteurisation_units(published: Published) -> None:
    published("z of 1.393 per K, K", PASTEURISATION.z_k, 6.947, DEL_VECCHIO, 0.0005)


@pytest.mark.parametrize(
    "reference, minutes, celsius, value, source",
    [
        (F0, 15, 121.1, 15.0, F_VALUE),
        (F0, 30, 115, 7.36413, F_VALUE),
        (A0, 10, 80, 600.0, ISO_15883),
        (A0, 1, 90, 600.0, ISO_15883),
        (A0, 0.2, 93, 239.431, ISO_15883),
    ],
)
def test_f0_and_a0(
    published: Published,
    reference: Reference,
    minutes: float,
    celsius: float,
    value: float,
    source: str,
) -> None:
    ours = held(minutes=minutes, temperature_c=celsius, reference=reference)
    published(f"{reference.name}, {minutes:g} min at {celsius} °C, {reference.unit}", ours, value,
              source, value * 2e-6)  # fmt: skip


def test_least_hot_water_of_the_dairy_code(published: Published) -> None:
    """170 °F at the outlet for 5 minutes."""
    seconds = np.array([0.0, 120.0, 300.0])
    ours = lethality(seconds=seconds, temperatures_c=np.full(3, (170 - 32) / 1.8), max_gap_s=200)
    source = "California Food and Agricultural Code 33519 (read), as PU (computed)"
    published("5 min at 170 °F, PU", ours.value, 1254, source, 0.5)
