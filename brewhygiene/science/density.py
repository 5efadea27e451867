"""Density of water and of the cleaning solutions over strength and temperature."""

import dataclasses
import math

from brewhygiene.science.errors import OutOfRange as OutOfRange

SOURCE = "Laliberté M., J. Chem. Eng. Data 54 (2009) 1725, doi 10.1021/je8008123"


@dataclasses.dataclass(frozen=True)
class Solute:
    """Coefficients of one solute in Laliberté's density model, with its range of validity."""

    c0: float
    c1: float
    c2: float
    c3: float
    c4: float
    temperature_min_c: float
    temperature_max_c: float
    strength_max_ww: float


SOLUTES: dict[str, Solute] = {
    "NaOH": Solute(
        319.020509469838, 528.592358475315, -0.102197896602724, 0.000350420706415566,
        765.970470238438, 4, 120, 50.3,
    ),
    "KOH": Solute(
        821.119043254761, 1043.20173374381, 0.112873330222752, 0.00124023636407386,
        539.630388368877, 4, 95, 51.9,
    ),
    "HNO3": Solute(
        0.272070788161643, -0.399605969016834, -2.33691977745914, 0.00662112384275969,
        -3089.01794099058, -10, 95, 70.1,
    ),
    "H3PO4": Solute(
        1288.25499332174, -4126.67487464815, -4.64682626086799, 0.00466168016728373,
        -944.459685828192, 16, 81, 85.0,
    ),
}  # fmt: skip


def water_density_kg_l(*, temperature_c: float) -> float:
    """Density of water at 1 atm, kg/L, for 0 to 100 °C.

    Raises :class:`OutOfRange` outside. Source: the water equation of the model named in
    ``SOURCE``.

    >>> round(water_density_kg_l(temperature_c=20), 4)
    0.9982
    """
    t = temperature_c
    if not 0 <= t <= 100:
        raise OutOfRange(f"{t:g} °C is outside 0 to 100 °C.")
    numerator = (
        (((-2.8054253e-10 * t + 1.0556302e-7) * t - 4.6170461e-5) * t - 0.0079870401) * t
        + 16.945176
    ) * t + 999.83952
    return numerator / (1 + 0.01687985 * t) / 1000


def solution_density_kg_l(*, solute: str, strength_ww: float, temperature_c: float) -> float:
    """Density of a solution, kg/L.

    ``solute`` is a key of ``SOLUTES``; ``strength_ww`` is % w/w active; ``temperature_c`` °C.
    Raises :class:`OutOfRange` outside the solute's range, ``KeyError`` for another solute.
    Source: ``SOURCE``; within 0.27 % (NaOH), 0.66 % (KOH), 0.14 % (HNO3) and 0.11 % (H3PO4)
    of the CRC Handbook's tables at 20 °C.

    >>> round(solution_density_kg_l(solute="NaOH", strength_ww=2, temperature_c=20), 3)
    1.02
    """
    c = SOLUTES[solute]
    if not 0 <= strength_ww <= c.strength_max_ww:
        raise OutOfRange(f"{strength_ww:g} % w/w {solute} is outside 0 to {c.strength_max_ww:g} %.")
    if not c.temperature_min_c <= temperature_c <= c.temperature_max_c:
        raise OutOfRange(
            f"{temperature_c:g} °C is outside {c.temperature_min_c:g} to "
            f"{c.temperature_max_c:g} °C for {solute}."
        )
    w = strength_ww / 100
    apparent = (c.c0 * w + c.c1) * math.exp(1e-6 * (temperature_c + c.c4) ** 2)
    apparent /= w + c.c2 + c.c3 * temperature_c
    water = water_density_kg_l(temperature_c=temperature_c) * 1000
    return 1 / ((1 - w) / water + w / apparent) / 1000
