"""Water and dilute cleaning solutions as fluids: vapour pressure, density, viscosity, heat.

The correlations are those of the International Association for the Properties of Water and
Steam (IAPWS) and of Laliberté, as the libraries ``chemicals`` and ``thermo`` carry them. The
libraries are imported where they are used: a start of the program need not wait for them.
"""

import dataclasses
import itertools
from collections.abc import Callable, Sequence

from brewhygiene.science.arrays import pointwise
from brewhygiene.science.errors import Numbers, OutOfRange, require
from brewhygiene.science.solutions.density import solution_density_kg_l

ZERO_C_K = 273.15
ATMOSPHERE_PA = 101325.0

# Viscosity of a solution over that of water, at 20 °C, by % w/w: from the CRC Handbook of
# Chemistry and Physics, 102nd ed. (2021), "Concentrative Properties of Aqueous Solutions",
# over its 1.002 mPa s for water. Read in a transcription of the table.
_WATER_20_C_MPA_S = 1.002
_VISCOSITY_20_C_MPA_S = {
    "NaOH": ((0.0, 1.002), (0.5, 1.027), (1.0, 1.054), (2.0, 1.112), (3.0, 1.176), (5.0, 1.329)),
    "KOH": ((0.0, 1.002), (0.5, 1.010), (1.0, 1.019), (2.0, 1.038), (3.0, 1.058), (5.0, 1.102)),
    "HNO3": ((0.0, 1.002), (0.5, 1.004), (1.0, 1.005), (2.0, 1.007), (3.0, 1.010), (5.0, 1.018)),
    "H3PO4": ((0.0, 1.002), (0.5, 1.010), (1.0, 1.020), (2.0, 1.050), (3.0, 1.079), (5.0, 1.138)),
}
STRONGEST_FLUID_WW = 5.0

# Laliberté's coefficients a1 to a6 of the heat capacity, as the library ``chemicals`` lists them,
# with the range of the fit: °C from, °C to, % w/w at most. Typed here because the library's own
# table of them needs pandas, 44 MB for three rows.
_HEAT_CAPACITY = {
    "NaOH": (
        (-0.922780764834469, -0.0412353462450485, 1.8722524604359, -5.94223565147303,
         3.13007617842649, 0.141040805508813), 4.0, 120.0, 30.3,
    ),
    "KOH": (
        (-0.612709529812129, -0.0454225316920391, 1.87598005977999, -5.62731016809735,
         2.42547035549534, 1.24500822569176), 4.0, 120.0, 46.5,
    ),
    "HNO3": (
        (-0.337794277610799, -0.0435222748497721, 1.76713518805669, -2.09327974333762,
         3.34739334397655, 0.739891954672814), 5.0, 120.0, 6.54,
    ),
}  # fmt: skip


@dataclasses.dataclass(frozen=True)
class Fluid:
    """Water (``solute`` empty) or a solution of ``strength_ww`` % w/w at ``temperature_c`` °C."""

    temperature_c: float
    density_kg_m3: float
    viscosity_mpa_s: float
    solute: str = ""
    strength_ww: float = 0.0


def saturation_pressure_kpa(*, temperature_c: Numbers) -> Numbers:
    """Vapour pressure of water, kPa absolute.

    ``temperature_c`` in °C, 0 to 200 (the formulation goes on to 374). IAPWS-IF97, region 4,
    whose own uncertainty is 0.025 % here [1]_. Raises :class:`OutOfRange` outside.

    >>> round(saturation_pressure_kpa(temperature_c=26.85), 5)  # 300 K, table 35 of [1]
    3.53659

    References
    ----------
    .. [1] IAPWS R7-97(2012), Revised Release on the IAPWS Industrial Formulation 1997.
    """
    require("temperature", temperature_c, unit="°C", minimum=0, maximum=200)
    from chemicals.iapws import Psat_IAPWS

    return pointwise(lambda t: float(Psat_IAPWS(t + ZERO_C_K)) / 1000, temperature_c)


def _density_kg_m3(temperature_c: float) -> float:
    from chemicals.iapws import iapws95_rho

    density: Callable[[float, float], float] = iapws95_rho
    return density(temperature_c + ZERO_C_K, ATMOSPHERE_PA)


def water_density_kg_m3(*, temperature_c: Numbers) -> Numbers:
    """Density of liquid water at 101.325 kPa, kg/m³, for ``temperature_c`` of 0 to 99 °C.

    IAPWS-95 [1]_. Raises :class:`OutOfRange` outside.

    >>> round(water_density_kg_m3(temperature_c=20.0), 3)
    998.207

    References
    ----------
    .. [1] IAPWS R6-95(2018), Formulation 1995 for the Thermodynamic Properties of Ordinary Water.
    """
    require("temperature", temperature_c, unit="°C", minimum=0, maximum=99)
    return pointwise(_density_kg_m3, temperature_c)


def water_viscosity_mpa_s(*, temperature_c: Numbers) -> Numbers:
    """Dynamic viscosity of liquid water at 101.325 kPa, mPa s, for 0 to 99 °C.

    ``temperature_c`` in °C. IAPWS R12-08 [1]_, without the critical enhancement, which is
    nothing at these temperatures; within 1 % of measurement. Raises :class:`OutOfRange` outside.

    >>> round(water_viscosity_mpa_s(temperature_c=25.0), 4)
    0.89

    References
    ----------
    .. [1] IAPWS R12-08(2008), Formulation for the Viscosity of Ordinary Water Substance.
    """
    require("temperature", temperature_c, unit="°C", minimum=0, maximum=99)
    from chemicals.viscosity import mu_IAPWS

    def one(t: float) -> float:
        return float(mu_IAPWS(t + ZERO_C_K, _density_kg_m3(t))) * 1000

    return pointwise(one, temperature_c)


def viscosity_ratio(*, solute: str, strength_ww: float) -> float:
    """Viscosity of a dilute solution over that of water at 20 °C.

    ``solute`` NaOH, KOH, HNO3 or H3PO4; ``strength_ww`` 0 to 5 % w/w, straight lines between
    the rows of the table [1]_. Raises :class:`OutOfRange` above, ``KeyError`` for another.

    >>> round(viscosity_ratio(solute="NaOH", strength_ww=2.0), 3)
    1.11

    References
    ----------
    .. [1] CRC Handbook of Chemistry and Physics, 102nd ed., "Concentrative Properties of
       Aqueous Solutions", 20 °C.
    """
    rows = _VISCOSITY_20_C_MPA_S[solute]
    require(f"strength of {solute}", strength_ww, unit="% w/w", minimum=0, maximum=5)
    for (weak, thin), (strong, thick) in itertools.pairwise(rows):
        if strength_ww <= strong:
            share = (strength_ww - weak) / (strong - weak)
            return (thin + share * (thick - thin)) / _WATER_20_C_MPA_S
    raise AssertionError(strength_ww)  # the last row is the range's end


def fluid(*, temperature_c: float, solute: str = "", strength_ww: float = 0.0) -> Fluid:
    """Density and viscosity of water, or of a dilute solution, as it flows.

    ``temperature_c`` °C, 0 to 99 (a solution: within the range of its density); ``solute``
    NaOH, KOH, HNO3, H3PO4 or empty for water; ``strength_ww`` % w/w, at most 5. The viscosity
    of a solution is that of water at its temperature times the ratio of the two at 20 °C: the
    ratio falls a little with heat, so a hot solution flows slightly easier than said here.
    Raises :class:`OutOfRange`.

    >>> round(fluid(temperature_c=70).viscosity_mpa_s, 3)
    0.404
    """
    water_mpa_s = water_viscosity_mpa_s(temperature_c=float(temperature_c))
    if not solute:
        return Fluid(
            temperature_c=temperature_c,
            density_kg_m3=water_density_kg_m3(temperature_c=float(temperature_c)),
            viscosity_mpa_s=water_mpa_s,
        )
    if solute not in _VISCOSITY_20_C_MPA_S:
        raise OutOfRange(
            f"There is no viscosity table of {solute}. Choose one of "
            f"{', '.join(_VISCOSITY_20_C_MPA_S)}, or water."
        )
    ratio = viscosity_ratio(solute=solute, strength_ww=strength_ww)
    density_kg_l = solution_density_kg_l(
        solute=solute, strength_ww=strength_ww, temperature_c=temperature_c
    )
    return Fluid(
        temperature_c=temperature_c,
        density_kg_m3=float(density_kg_l) * 1000,
        viscosity_mpa_s=water_mpa_s * ratio,
        solute=solute,
        strength_ww=strength_ww,
    )


def heat_capacity_kj_kg_k(
    *, temperature_c: float, solute: str = "", strength_ww: float = 0.0
) -> float:
    """Heat capacity of water or of a solution at constant pressure, kJ/(kg K).

    ``temperature_c`` °C, 0 to 99 for water and 5 to 99 for a solution; ``solute`` NaOH, KOH,
    HNO3 or empty for water; ``strength_ww`` % w/w within the range of the fit (NaOH 30.3, KOH
    46.5, HNO3 6.5 %). Water by IAPWS-95 [1]_, solutions by Laliberté's fit [2]_. Raises
    :class:`OutOfRange` outside and for a solute without a fit.

    >>> round(heat_capacity_kj_kg_k(temperature_c=20), 3)
    4.184

    References
    ----------
    .. [1] IAPWS R6-95(2018), Formulation 1995 for the Thermodynamic Properties of Ordinary Water.
    .. [2] Laliberté M., J. Chem. Eng. Data 54 (2009) 1725, doi 10.1021/je8008123.
    """
    require("temperature", temperature_c, unit="°C", minimum=0, maximum=99)
    if not solute:
        from chemicals.iapws import iapws95_properties

        properties: Callable[[float, float], Sequence[float]] = iapws95_properties
        return properties(temperature_c + ZERO_C_K, ATMOSPHERE_PA)[5] / 1000
    if solute not in _HEAT_CAPACITY:
        raise OutOfRange(
            f"There is no heat capacity of {solute}. Choose one of {', '.join(_HEAT_CAPACITY)}, or "
            "water."
        )
    coefficients, coldest_c, hottest_c, strongest_ww = _HEAT_CAPACITY[solute]
    require(
        f"temperature of {solute}", temperature_c, unit="°C", minimum=coldest_c, maximum=hottest_c
    )
    require(f"strength of {solute}", strength_ww, unit="% w/w", minimum=0, maximum=strongest_ww)
    from thermo.electrochem import Laliberte_heat_capacity_mix

    each = [[coefficient] for coefficient in coefficients]
    found = Laliberte_heat_capacity_mix(temperature_c + ZERO_C_K, [strength_ww / 100], *each)
    return float(found) / 1000
