"""One solution's strength on every basis, and what it takes from the water it is made with."""

import dataclasses
import functools
from typing import Literal, get_args

from brewhygiene.science.errors import require
from brewhygiene.science.solutions.density import known_solute, solution_density_kg_l
from brewhygiene.science.solutions.strength import ROOM_TEMPERATURE_C, NotConvertible, ww_from_wv
from brewhygiene.science.working import WorkingLine, shown

# % w/w, % w/v, g/L, mg/L, mol/L, eq/L (normality) and mol per kg of water (molality).
StrengthBasis = Literal["ww", "wv", "g_l", "mg_l", "mol_l", "eq_l", "mol_kg"]
BASIS_UNIT: dict[str, str] = {
    "ww": "% w/w",
    "wv": "% w/v",
    "g_l": "g/L",
    "mg_l": "mg/L",
    "mol_l": "mol/L",
    "eq_l": "eq/L",
    "mol_kg": "mol/kg",
}

# Equivalents a mole can be counted as; more than one where it depends on the end point.
# H3PO4: 1 to pH 4.5 (methyl orange), 2 to pH 9.5; Na2CO3: 1 to pH 8.3, 2 to pH 4.5.
EQUIVALENTS: dict[str, tuple[int, ...]] = {
    "NaOH": (1,),
    "KOH": (1,),
    "HNO3": (1,),
    "H3PO4": (1, 2),
    "Na2CO3": (1, 2),
}


@functools.cache
def molar_mass_g_mol(formula: str) -> float:
    """Molar mass in g/mol of a chemical ``formula`` such as ``"NaOH"``.

    From the atomic weights in the library ``chemicals`` (IUPAC's, within 0.001 g/mol of the
    newest for what is used here). Raises ``ValueError`` for what is no formula.

    >>> round(molar_mass_g_mol("Na2CO3"), 3)
    105.988
    """
    # Imported where it is used: it brings NumPy, which a start without a sum can do without.
    from chemicals import molecular_weight, nested_formula_parser

    return float(molecular_weight(nested_formula_parser(formula)))


@dataclasses.dataclass(frozen=True)
class SolutionStrengths:
    """One solution's strength on every basis; ``equivalents`` a mole is what ``eq_l`` counts."""

    solute: str
    temperature_c: float
    density_kg_l: float
    strength_ww: float
    strength_wv: float
    g_l: float
    mol_l: float
    eq_l: float
    equivalents: int
    mol_kg: float
    working: tuple[WorkingLine, ...]


def _counted_equivalents(solute: str, basis: str, equivalents: int | None) -> int:
    possible = EQUIVALENTS[solute]
    if equivalents is None:
        if basis == "eq_l" and len(possible) > 1:
            raise NotConvertible(
                f"A normality of {solute} depends on its end point. Choose whether a mole counts "
                f"as {' or '.join(map(str, possible))} equivalents."
            )
        return possible[0]
    if equivalents not in possible:
        raise NotConvertible(
            f"A mole of {solute} counts as {' or '.join(map(str, possible))} equivalents, "
            f"not {equivalents}."
        )
    return equivalents


def _strength_ww(
    solute: str, value: float, basis: str, temperature_c: float, equivalents: int
) -> float:
    molar_mass = molar_mass_g_mol(solute)
    match basis:
        case "ww":
            return value
        case "mol_kg":
            return 100 * value * molar_mass / (1000 + value * molar_mass)
    g_l = (
        value
        * {
            "wv": 10,
            "g_l": 1,
            "mg_l": 0.001,
            "mol_l": molar_mass,
            "eq_l": molar_mass / equivalents,
        }[basis]
    )
    return ww_from_wv(substance=solute, strength_wv=g_l / 10, temperature_c=temperature_c)


def solution_strengths(
    *,
    solute: str,
    value: float,
    basis: StrengthBasis,
    temperature_c: float = ROOM_TEMPERATURE_C,
    equivalents: int | None = None,
) -> SolutionStrengths:
    """A strength on every basis: % w/w, % w/v, g/L, mol/L, eq/L and mol per kg of water.

    g/L = 10 · w · ρ with w in % w/w and ρ in kg/L; mol/L = g/L ÷ M; eq/L = mol/L × equivalents;
    mol/kg = 1000 w / (M (100 − w)).

    ``solute`` is NaOH, KOH, HNO3, H3PO4 or Na2CO3; ``value`` is its strength in the unit of
    ``basis`` (see ``BASIS_UNIT``); ``temperature_c`` °C is the volume's, for a litre weighs less
    when it is warm; ``equivalents`` a mole (1 or 2) matter for H3PO4 and Na2CO3, where a
    normality depends on the end point. Errors are those of the density. Raises
    :class:`OutOfRange` outside the density's range (see
    :func:`~density.solution_density_kg_l`), ``NotConvertible`` for an unknown basis, a number
    of equivalents that cannot be, or a normality of H3PO4 or Na2CO3 without one.

    >>> round(solution_strengths(solute="NaOH", value=2, basis="ww").mol_l, 2)  # [1]_: 0.510
    0.51

    References
    ----------
    .. [1] CRC Handbook of Chemistry and Physics, 102nd ed. (2021), "Concentrative Properties
       of Aqueous Solutions".
    """
    known_solute(solute)
    if basis not in get_args(StrengthBasis):
        raise NotConvertible(f"A strength is not given in {basis!r}.")
    counted = _counted_equivalents(solute, basis, equivalents)
    require(f"strength of {solute}", value, unit=BASIS_UNIT[basis], minimum=0)
    strength_ww = _strength_ww(solute, value, basis, temperature_c, counted)
    density_kg_l = solution_density_kg_l(
        solute=solute, strength_ww=strength_ww, temperature_c=temperature_c
    )
    molar_mass = molar_mass_g_mol(solute)
    g_l = 10 * strength_ww * density_kg_l
    mol_l = g_l / molar_mass
    eq_l = mol_l * counted
    mol_kg = 1000 * strength_ww / (molar_mass * (100 - strength_ww))
    lines = (
        WorkingLine(
            "density", f"ρ of {solute}", f"{shown(strength_ww)} % w/w at {shown(temperature_c)} °C",
            density_kg_l, "kg/L",
        ),
        WorkingLine(
            "grams in a litre", "10 · w · ρ", f"10 × {shown(strength_ww)} × {shown(density_kg_l)}",
            g_l, "g/L",
        ),
        WorkingLine("by volume", "g/L ÷ 10", f"{shown(g_l)} ÷ 10", g_l / 10, "% w/v"),
        WorkingLine(
            "moles in a litre", "g/L ÷ M", f"{shown(g_l)} ÷ {shown(molar_mass, significant=6)}",
            mol_l, "mol/L",
        ),
        WorkingLine(
            "normality", "mol/L × equivalents", f"{shown(mol_l)} × {counted}", eq_l, "eq/L"
        ),
        WorkingLine(
            "molality", "1000 w ÷ (M (100 − w))",
            f"1000 × {shown(strength_ww)} ÷ ({shown(molar_mass)} × {shown(100 - strength_ww)})",
            mol_kg, "mol/kg",
        ),
    )  # fmt: skip
    return SolutionStrengths(
        solute=solute,
        temperature_c=temperature_c,
        density_kg_l=density_kg_l,
        strength_ww=strength_ww,
        strength_wv=g_l / 10,
        g_l=g_l,
        mol_l=mol_l,
        eq_l=eq_l,
        equivalents=counted,
        mol_kg=mol_kg,
        working=lines,
    )


def caustic_lost_to_water_kg(*, alkalinity_mg_l_caco3: float, water_l: float) -> float:
    """kg NaOH that the bicarbonate of the make-up water turns into carbonate.

    HCO3⁻ + OH⁻ → CO3²⁻ + H2O: a mole of NaOH for each mole of bicarbonate, which is the
    alkalinity over half the molar mass of CaCO3. ``alkalinity_mg_l_caco3`` mg/L as CaCO3, of
    water whose alkalinity is bicarbonate (pH below 8.3); ``water_l`` L. Magnesium takes more,
    which is left out. Raises :class:`OutOfRange` for a negative value.

    >>> round(caustic_lost_to_water_kg(alkalinity_mg_l_caco3=150, water_l=1000), 3)
    0.12
    """
    require("alkalinity", alkalinity_mg_l_caco3, unit="mg/L as CaCO3", minimum=0)
    require("water", water_l, unit="L", minimum=0)
    bicarbonate_mol = alkalinity_mg_l_caco3 / 1000 * water_l / (molar_mass_g_mol("CaCO3") / 2)
    return bicarbonate_mol * molar_mass_g_mol("NaOH") / 1000
