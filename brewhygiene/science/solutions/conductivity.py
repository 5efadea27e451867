"""Conductivity: of a known solution, the strength that a reading stands for, and a rinse's end.

Conductivity cannot tell caustic from what caustic becomes: 2 % NaOH turned to carbonate falls
from 93 to about 28 mS/cm at 20 °C, and a mixture of the two reads like a weaker caustic. Soil,
other salts and additives in a formulated cleaner shift it too.
"""

import dataclasses
from typing import TYPE_CHECKING, Any, cast

from brewhygiene.science.errors import Numbers, OutOfRange, require
from brewhygiene.science.solutions.strengths import molar_mass_g_mol
from brewhygiene.science.working import WorkingLine, shown

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray

CARBONATE_WARNING = (
    "Conductivity cannot separate free caustic from carbonate, soil or other salts. Titrate where "
    "it matters, especially recovered caustic."
)
OTHER_SALTS_WARNING = (
    "This is valid for the plain chemical in pure water. Other acids, salts, soil and the "
    "additives of a formulated agent change it. Titrate where it matters."
)

TEMPERATURE_MIN_C, TEMPERATURE_MAX_C = 5.0, 90.0


@dataclasses.dataclass(frozen=True)
class _Molal:
    """One ion's (or salt's) molal conductivity: polynomials in °C, mS kg/(cm mol)."""

    limiting: tuple[float, float, float]
    slope: tuple[float, float, float]
    b: float

    def at(self, temperature_c: Any, ionic_strength_mol_kg: Any) -> Any:
        limiting, slope = (
            (c[0] * temperature_c + c[1]) * temperature_c + c[2]
            for c in (self.limiting, self.slope)
        )
        root = ionic_strength_mol_kg**0.5
        return limiting - slope * root / (1 + self.b * root)


@dataclasses.dataclass(frozen=True)
class _Electrolyte:
    parts: tuple[_Molal, ...]
    strength_max_ww: float
    within_percent: float


_H = _Molal((-0.01414, 5.355, 224.2), (-0.00918, 1.842, 39.23), 0.3)
_NITRATE = _Molal((0.001925, 1.214, 39.90), (-0.00118, 0.5045, 23.31), 0.1)
_POTASSIUM = _Molal((0.003046, 1.261, 40.70), (0.00535, 0.9316, 22.59), 1.5)
_HYDROXIDE = _Molal((0.003396, 2.925, 121.3), (0.00933, 0.1086, 35.90), 0.01)
_CAUSTIC = _Molal((0.006936, 3.872, 148.3), (0.01018, 0.67421, 56.76), 0.2)

# Caustic as a salt from reference 1, to where the CRC Handbook's table at 20 °C confirms it;
# the others ion by ion from reference 2, to the ionic strength of its data, 0.7 mol/kg (from
# memory). The percentages are the largest difference from that table.
_ELECTROLYTES: dict[str, _Electrolyte] = {
    "NaOH": _Electrolyte((_CAUSTIC,), 5.0, 3.4),
    "KOH": _Electrolyte((_POTASSIUM, _HYDROXIDE), 3.5, 2.6),
    "HNO3": _Electrolyte((_H, _NITRATE), 4.0, 1.9),
}
CONDUCTIVE_SOLUTES = tuple(_ELECTROLYTES)


def _electrolyte(solute: str) -> _Electrolyte:
    if solute not in _ELECTROLYTES:
        raise KeyError(
            f"There is no conductivity table of {solute}. Choose one of {', '.join(_ELECTROLYTES)}."
        )
    return _ELECTROLYTES[solute]


def _require_temperature(temperature_c: Any) -> None:
    require(
        "temperature of the solution",
        temperature_c,
        unit="°C",
        minimum=TEMPERATURE_MIN_C,
        maximum=TEMPERATURE_MAX_C,
    )


def _ms_cm(solute: str, strength_ww: Any, temperature_c: Any) -> Any:
    molality_mol_kg = 1000 * strength_ww / (molar_mass_g_mol(solute) * (100 - strength_ww))
    parts = (part.at(temperature_c, molality_mol_kg) for part in _ELECTROLYTES[solute].parts)
    return molality_mol_kg * sum(parts)


def conductivity_ms_cm(
    *, solute: str, strength_ww: Numbers, temperature_c: "Numbers | float | FloatArray"
) -> Numbers:
    """Conductivity of NaOH, KOH or HNO3 in pure water, mS/cm.

    κ = m Σ Λᵢ, Λᵢ = λ0(t) − A(t) √I / (1 + B √I), with m the MOLAL concentration, mol per kg
    of water, and I = m; λ0 and A are polynomials in °C [1]_ [2]_.

    ``solute`` is NaOH, KOH or HNO3; ``strength_ww`` % w/w, ``temperature_c`` °C, numbers or
    arrays. Valid 5–90 °C; NaOH to 5 %, KOH to 3.5 %, HNO3 to 4 % w/w. Largest differences from
    the CRC Handbook's table at 20 °C: NaOH 3.4 % (at 0.5 %; 1.7 % from 1 % on), HNO3 1.9 %
    (rows to 2 %), KOH 2.6 % (rows from memory). Carbonate, soil and other salts are not in it.
    Raises :class:`OutOfRange` outside, ``KeyError`` for another solute.

    >>> round(conductivity_ms_cm(solute="NaOH", strength_ww=2, temperature_c=20), 1)
    92.9

    References
    ----------
    .. [1] McCleskey R.B., J. Chem. Eng. Data 56 (2011) 317, doi 10.1021/je101012n (NaOH).
    .. [2] McCleskey R.B., Nordstrom D.K., Ryan J.N., Ball J.W., Geochim. Cosmochim. Acta 77
       (2012) 369 (ions; the signs of H⁺ and NO3⁻ confirmed by the limiting conductivity).
    """
    electrolyte = _electrolyte(solute)
    require(
        f"strength of {solute}",
        strength_ww,
        unit="% w/w",
        minimum=0,
        maximum=electrolyte.strength_max_ww,
    )
    _require_temperature(temperature_c)
    return cast("Numbers", _ms_cm(solute, strength_ww, temperature_c))


def _refuse_above(solute: str, conductivity: Any, temperature_c: Any) -> None:
    """Refuse the first point that conducts better than the strongest solution known."""
    strongest = _ELECTROLYTES[solute].strength_max_ww
    # A relative allowance lets the conductivity of the strongest solution come back.
    most = _ms_cm(solute, strongest, temperature_c) * (1 + 1e-12)
    above = conductivity > most
    if isinstance(above, bool):
        if not above:
            return
        point: tuple[float, ...] = (conductivity, most, temperature_c)
    else:
        import numpy as np  # there is an array, so it is loaded

        if not above.any():
            return
        whole = np.broadcast_arrays(conductivity, most, temperature_c)
        point = tuple(float(each[above][0]) for each in whole)
    raise OutOfRange(
        f"{shown(point[0])} mS/cm at {shown(point[2])} °C is more than {shown(strongest)} % w/w "
        f"{solute} has ({shown(point[1])} mS/cm), the strongest that the published conductivities "
        "reach. Titrate, or dilute and measure again.",
        quantity="conductivity",
        value=point[0],
        minimum=0,
        maximum=point[1],
        unit="mS/cm",
    )


def strength_from_conductivity_ww(
    *, solute: str, conductivity_ms_cm: Numbers, temperature_c: "Numbers | float | FloatArray"
) -> Numbers:
    """Strength in % w/w that a conductivity stands for: the inverse of the function above.

    Solved by Brent's method to 1e-12 % w/w, arrays by Chandrupatla's. ``solute`` is NaOH, KOH or
    HNO3; ``conductivity_ms_cm`` mS/cm as measured (not compensated) and ``temperature_c`` °C,
    numbers or arrays. Range and errors as :func:`conductivity_ms_cm`, about as large in strength;
    carbonate and soil fool it. Raises :class:`OutOfRange` outside, ``KeyError`` for another
    solute.

    >>> round(strength_from_conductivity_ww(solute="HNO3", conductivity_ms_cm=108,
    ...                                     temperature_c=20), 2)
    1.97

    References
    ----------
    .. [1] As :func:`conductivity_ms_cm`; its doctest's 108 mS/cm is the CRC Handbook's of 2 %.
    """
    _electrolyte(solute)
    require("conductivity", conductivity_ms_cm, unit="mS/cm", minimum=0)
    _require_temperature(temperature_c)
    _refuse_above(solute, conductivity_ms_cm, temperature_c)
    # Imported where it is used: SciPy takes a fifth of a second and 35 MB.
    from scipy.optimize import brentq, elementwise

    # A little above the strongest, for what the refusal allows.
    bracket = (0.0, _ELECTROLYTES[solute].strength_max_ww * (1 + 1e-9))
    both = (conductivity_ms_cm, temperature_c)

    def excess(strength_ww: Any, conductivity: Any, temperature: Any) -> Any:
        return _ms_cm(solute, strength_ww, temperature) - conductivity

    if all(isinstance(each, int | float) for each in both):
        found: Any = brentq(excess, *bracket, args=both, xtol=1e-12, rtol=1e-12)
    else:
        found = elementwise.find_root(
            excess, bracket, args=both, tolerances={"xatol": 1e-12, "xrtol": 1e-12}
        ).x
    return cast("Numbers", found)


@dataclasses.dataclass(frozen=True)
class ConductivityReading:
    """The strength that one reading stands for, with what it may be off and what fools it.

    ``error_ww`` % w/w is how far the published conductivities are from a handbook's table;
    ``warning`` says what the instrument cannot see.
    """

    solute: str
    strength_ww: float
    error_ww: float
    conductivity_ms_cm: float
    temperature_c: float
    warning: str
    working: tuple[WorkingLine, ...]


def read_conductivity(
    *, solute: str, conductivity_ms_cm: float, temperature_c: float
) -> ConductivityReading:
    """One reading's strength with its error, its warning and the working.

    ``solute`` is NaOH, KOH or HNO3; ``conductivity_ms_cm`` mS/cm as measured, not compensated,
    at ``temperature_c`` °C. Range, errors and refusals as :func:`strength_from_conductivity_ww`.

    >>> reading = read_conductivity(solute="NaOH", conductivity_ms_cm=93.1, temperature_c=20)
    >>> round(reading.strength_ww, 2), round(reading.error_ww, 2)
    (2.0, 0.07)
    """
    strength_ww = strength_from_conductivity_ww(
        solute=solute, conductivity_ms_cm=conductivity_ms_cm, temperature_c=temperature_c
    )
    molality_mol_kg = 1000 * strength_ww / (molar_mass_g_mol(solute) * (100 - strength_ww))
    molal = sum(part.at(temperature_c, molality_mol_kg) for part in _ELECTROLYTES[solute].parts)
    return ConductivityReading(
        solute=solute,
        strength_ww=strength_ww,
        error_ww=strength_ww * _ELECTROLYTES[solute].within_percent / 100,
        conductivity_ms_cm=conductivity_ms_cm,
        temperature_c=temperature_c,
        warning=OTHER_SALTS_WARNING if solute == "HNO3" else CARBONATE_WARNING,
        working=(
            WorkingLine(
                "molal conductivity", "Λ(m, t)",
                f"Λ of {shown(molality_mol_kg)} mol/kg at {shown(temperature_c)} °C", molal,
                "mS kg/(cm mol)",
            ),
            WorkingLine(
                "molality, by iteration until m · Λ is the reading", "κ ÷ Λ",
                f"{shown(conductivity_ms_cm)} ÷ {shown(molal)}", molality_mol_kg, "mol/kg",
            ),
            WorkingLine(
                "strength", "100 m M ÷ (1000 + m M)",
                f"100 × {shown(molality_mol_kg)} × {shown(molar_mass_g_mol(solute))} ÷ (1000 + "
                f"{shown(molality_mol_kg)} × {shown(molar_mass_g_mol(solute))})", strength_ww,
                "% w/w",
            ),
        ),
    )  # fmt: skip


def _require_compensation(
    conductivity_ms_cm: Any, temperature_c: Any, alpha_per_k: float, reference_c: float
) -> None:
    require("conductivity", conductivity_ms_cm, unit="mS/cm", minimum=0)
    require("temperature", temperature_c, unit="°C", minimum=0, maximum=100)
    require("reference temperature", reference_c, unit="°C", minimum=0, maximum=100)
    require("temperature coefficient", alpha_per_k, unit="per K", minimum=0, maximum=0.1)


def compensated_by_division_ms_cm(
    *,
    conductivity_ms_cm: Numbers,
    temperature_c: "Numbers | float | FloatArray",
    alpha_per_k: float,
    reference_c: float = 25.0,
) -> Numbers:
    """A conductivity brought to a reference temperature as instruments do: κ / (1 + α (t − t0)).

    ``conductivity_ms_cm`` mS/cm at ``temperature_c`` °C (0–100), numbers or arrays;
    ``alpha_per_k`` is the coefficient per K (0–0.1) of κ at ``reference_c`` °C, and belongs to
    that reference: α20 = α25 / (1 − 5 α25). One α fits only near one strength and some tens of
    degrees (effective from 25 to 60 °C: 2 % NaOH 0.0175, 2 % HNO3 0.013 per K). Raises
    :class:`OutOfRange` outside, or where 1 + α (t − t0) is not above 0.

    >>> round(compensated_by_division_ms_cm(
    ...     conductivity_ms_cm=150, temperature_c=60, alpha_per_k=0.018), 2)
    92.02

    References
    ----------
    .. [1] The linear form of ISO 7888:1985 and IEC 60746-3 (read in secondary copies).
    """
    _require_compensation(conductivity_ms_cm, temperature_c, alpha_per_k, reference_c)
    divisor: Any = 1 + alpha_per_k * (cast("Any", temperature_c) - reference_c)
    require("1 + α (t − t0)", divisor, minimum=0, above=True)
    return cast("Numbers", conductivity_ms_cm / divisor)


def compensated_by_product_ms_cm(
    *,
    conductivity_ms_cm: Numbers,
    temperature_c: "Numbers | float | FloatArray",
    alpha_per_k: float,
    reference_c: float = 25.0,
) -> Numbers:
    """The other formula in circulation: κ (1 − α (t − t0)). Know which one a meter uses.

    It is the first order of :func:`compensated_by_division_ms_cm` and right only near t0: 35 K
    above, the two are 40 % apart. ``conductivity_ms_cm`` mS/cm at ``temperature_c`` °C (0–100),
    numbers or arrays; ``alpha_per_k`` per K (0–0.1); ``reference_c`` °C. Raises
    :class:`OutOfRange` outside, or where 1 − α (t − t0) is not above 0.

    >>> round(compensated_by_product_ms_cm(
    ...     conductivity_ms_cm=150, temperature_c=60, alpha_per_k=0.018), 2)
    55.5
    """
    _require_compensation(conductivity_ms_cm, temperature_c, alpha_per_k, reference_c)
    factor: Any = 1 - alpha_per_k * (cast("Any", temperature_c) - reference_c)
    require("1 − α (t − t0)", factor, minimum=0, above=True)
    return cast("Numbers", conductivity_ms_cm * factor)
