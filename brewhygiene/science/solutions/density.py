"""Density of water and of the cleaning solutions over strength and temperature.

The model is Laliberté's [1]_, from the library ``thermo``. It is up to 1.6 % off for strong
caustic, so that caustic is held to a handbook's table [2]_ instead: the model gives the shape
between the table's points, the table their height.

References
----------
.. [1] Laliberté M., J. Chem. Eng. Data 54 (2009) 1725, doi 10.1021/je8008123.
.. [2] Perry's Chemical Engineers' Handbook, 6th ed. (1984), densities of aqueous inorganic
   solutions: sodium hydroxide. Read in secondary copies; its 20 °C column is that of the CRC
   Handbook, 102nd ed., to 0.0001 kg/L.
"""

import bisect
import dataclasses
import functools
from typing import TYPE_CHECKING, cast

from brewhygiene.science.arrays import pointwise
from brewhygiene.science.errors import Numbers, require
from brewhygiene.science.errors import OutOfRange as OutOfRange

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray

SOURCE = "Laliberté M., J. Chem. Eng. Data 54 (2009) 1725, doi 10.1021/je8008123"
ZERO_C_IN_K = 273.15


@dataclasses.dataclass(frozen=True)
class Solute:
    """Coefficients of one solute in the model, with the range in which its density is known.

    ``temperature_min_c`` and ``temperature_max_c`` in °C, ``strength_max_ww`` in % w/w.
    """

    c0: float
    c1: float
    c2: float
    c3: float
    c4: float
    temperature_min_c: float
    temperature_max_c: float
    strength_max_ww: float


# Typed here, not looked up in the library at each start: its own table of them needs pandas,
# 44 MB for five rows. The range is the model's, cut at 100 °C where its equation of water ends.
SOLUTES: dict[str, Solute] = {
    "NaOH": Solute(
        319.020509469838, 528.592358475315, -0.102197896602724, 0.000350420706415566,
        765.970470238438, 0, 100, 50,
    ),
    "KOH": Solute(
        821.119043254761, 1043.20173374381, 0.112873330222752, 0.00124023636407386,
        539.630388368877, 4, 95, 51.8,
    ),
    "HNO3": Solute(
        0.272070788161643, -0.399605969016834, -2.33691977745914, 0.00662112384275969,
        -3089.01794099058, 0, 95, 70.1,
    ),
    "H3PO4": Solute(
        1288.25499332174, -4126.67487464815, -4.64682626086799, 0.00466168016728373,
        -944.459685828192, 16, 81, 85,
    ),
    "Na2CO3": Solute(
        5.45486543455e-7, 1.72154929405e-7, -0.0825850207323492, 0.00168822949783412,
        4705.39822185746, 0, 100, 20.9,
    ),
}  # fmt: skip

# Rows of reference 2, kg/L; the rows left out are within 0.06 % of what stands between them.
_CAUSTIC_TEMPERATURES_C = (0.0, 15.0, 20.0, 40.0, 60.0, 80.0, 100.0)
_CAUSTIC_KG_L: dict[float, tuple[float, ...]] = {
    2: (1.0244, 1.02198, 1.0207, 1.0139, 1.0045, 0.9929, 0.9797),
    8: (1.0943, 1.08887, 1.0869, 1.0780, 1.0676, 1.0560, 1.0432),
    20: (1.2296, 1.22183, 1.2191, 1.2079, 1.1960, 1.1833, 1.1700),
    32: (1.3614, 1.3520, 1.3490, 1.3362, 1.3232, 1.3097, 1.2960),
    40: (1.4435, 1.4334, 1.4300, 1.4164, 1.4027, 1.3889, 1.3750),
    50: (1.5400, 1.5290, 1.5253, 1.5109, 1.4967, 1.4827, 1.4690),
}


def _water_kg_l(temperature_c: float) -> float:
    # Imported where it is used: it brings NumPy, which a start without a sum can do without.
    from thermo.electrochem import Laliberte_density_w

    return float(Laliberte_density_w(temperature_c + ZERO_C_IN_K)) / 1000


def water_density_kg_l(*, temperature_c: Numbers) -> Numbers:
    """Density of water at 1 atm, kg/L.

    ``temperature_c`` °C, a number or an array, from 0 to 100. Within 0.002 % of IAPWS-95 to
    90 °C. Raises :class:`OutOfRange` outside.

    >>> round(water_density_kg_l(temperature_c=20), 4)
    0.9982

    References
    ----------
    .. [1] The equation of water of Laliberté M., J. Chem. Eng. Data 54 (2009) 1725.
    """
    require("temperature of water", temperature_c, unit="°C", minimum=0, maximum=100)
    return pointwise(_water_kg_l, temperature_c)


def _modelled_kg_l(c: Solute, strength_ww: float, temperature_c: float) -> float:
    from thermo.electrochem import Laliberte_density_i, Laliberte_density_w  # see _water_kg_l

    w = strength_ww / 100
    temperature_k = temperature_c + ZERO_C_IN_K
    solute = Laliberte_density_i(temperature_k, 1 - w, c.c0, c.c1, c.c2, c.c3, c.c4)
    return 1 / float((1 - w) / Laliberte_density_w(temperature_k) + w / solute) / 1000


@functools.cache
def _caustic_ratios() -> tuple[tuple[float, ...], ...]:
    """Table over model: a row for pure water and for each strength, a column a temperature."""
    caustic = SOLUTES["NaOH"]
    return (
        (1.0,) * len(_CAUSTIC_TEMPERATURES_C),
        *(
            tuple(
                density / _modelled_kg_l(caustic, strength_ww, temperature_c)
                for density, temperature_c in zip(row, _CAUSTIC_TEMPERATURES_C, strict=True)
            )
            for strength_ww, row in _CAUSTIC_KG_L.items()
        ),
    )


def _place(value: float, marks: tuple[float, ...]) -> tuple[int, float]:
    """The interval of ``marks`` that ``value`` lies in, and how far along it, 0 to 1."""
    index = min(bisect.bisect_right(marks, value), len(marks) - 1) - 1
    return index, (value - marks[index]) / (marks[index + 1] - marks[index])


def _caustic_ratio(strength_ww: float, temperature_c: float) -> float:
    ratios = _caustic_ratios()
    row, down = _place(strength_ww, (0.0, *_CAUSTIC_KG_L))
    column, along = _place(temperature_c, _CAUSTIC_TEMPERATURES_C)
    upper, lower = (
        ratios[index][column] * (1 - along) + ratios[index][column + 1] * along
        for index in (row, row + 1)
    )
    return upper * (1 - down) + lower * down


def _caustic_kg_l(strength_ww: float, temperature_c: float) -> float:
    return _modelled_kg_l(SOLUTES["NaOH"], strength_ww, temperature_c) * _caustic_ratio(
        strength_ww, temperature_c
    )


def known_solute(solute: str) -> Solute:
    """Coefficients and range (% w/w, °C) of ``solute``; ``KeyError`` where there is no table.

    >>> known_solute("HNO3").strength_max_ww
    70.1
    """
    if solute not in SOLUTES:
        raise KeyError(
            f"There is no density table of {solute}. Choose one of {', '.join(SOLUTES)}."
        )
    return SOLUTES[solute]


def solution_density_kg_l(
    *, solute: str, strength_ww: Numbers, temperature_c: "Numbers | float | FloatArray"
) -> Numbers:
    """Density of a solution in water, kg/L.

    1/ρ = (1 − w)/ρ_water + w/ρ_solute, the solute's apparent density by [1]_; for NaOH
    multiplied by the ratio of the table of [2]_ to it, read off between the table's points.

    ``solute`` is a key of ``SOLUTES``; ``strength_ww`` is % w/w active, ``temperature_c`` °C,
    numbers or arrays. Valid: NaOH 0–50 %, 0–100 °C; KOH 0–51.8 %, 4–95 °C; HNO3 0–70.1 %,
    0–95 °C; H3PO4 0–85 %, 16–81 °C; Na2CO3 0–20.9 %, 0–100 °C. Largest differences from the
    CRC Handbook at 20 °C: NaOH 0.02 %, KOH 0.66 % (0.2 % up to 5 % w/w), HNO3 0.14 %,
    H3PO4 0.11 %, Na2CO3 0.06 %; NaOH from rows of [2]_ that it does not use: 0.06 %.
    Raises :class:`OutOfRange` outside, ``KeyError`` for another solute.

    >>> round(solution_density_kg_l(solute="NaOH", strength_ww=50, temperature_c=20), 4)
    1.5253

    References
    ----------
    .. [1] Laliberté M., J. Chem. Eng. Data 54 (2009) 1725.
    .. [2] Perry's Chemical Engineers' Handbook, 6th ed. (1984), sodium hydroxide.
    """
    known = known_solute(solute)
    require(
        f"strength of {solute}", strength_ww, unit="% w/w", minimum=0, maximum=known.strength_max_ww
    )
    require(
        f"temperature of {solute}",
        cast("float", temperature_c),  # a number or an array, whichever the strength is
        unit="°C",
        minimum=known.temperature_min_c,
        maximum=known.temperature_max_c,
    )
    if solute == "NaOH":
        return pointwise(_caustic_kg_l, strength_ww, temperature_c)
    return pointwise(functools.partial(_modelled_kg_l, known), strength_ww, temperature_c)
