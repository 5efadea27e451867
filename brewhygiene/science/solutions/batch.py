"""A batch of cleaning solution: what goes into it, by mass, and the heat that may come of it.

All by mass: volumes do not add up (27 L of 50 % caustic and 982 L of water are 1000 L, not
1009 L), kilograms do. Every volume is at a stated temperature.
"""

import dataclasses
from typing import Literal

from brewhygiene.quantities.style import digits
from brewhygiene.science.errors import require
from brewhygiene.science.solutions.density import SOLUTES, solution_density_kg_l, water_density_kg_l
from brewhygiene.science.solutions.strength import ROOM_TEMPERATURE_C, NotConvertible
from brewhygiene.science.solutions.strengths import molar_mass_g_mol
from brewhygiene.science.working import WorkingLine, shown

ORDER_RULE = (
    "Always add caustic or acid to water, slowly and stirring. Never add water to the "
    "concentrate: it boils and spits."
)
# A solution of anything without a table, no stronger than this, is as heavy as water within it.
DILUTE_WW = 0.5

# Heat set free when a mole of the pure substance (solid NaOH and KOH, liquid HNO3 and H3PO4)
# dissolves in any amount of water at 25 °C, kJ/mol: from the standard enthalpies of formation in
# the CRC Handbook, as the library ``chemicals`` carries them.
HEAT_OF_SOLUTION_KJ_MOL: dict[str, float] = {"NaOH": 44.3, "KOH": 57.8, "HNO3": 33.3, "H3PO4": 24.6}
_WATER_HEAT_CAPACITY_KJ_KG_K = 4.18

Reason = Literal["concentrate_too_weak", "too_full", "too_strong"]


class Infeasible(ValueError):
    """No amounts do it. ``reason`` is a word for why; the message says why and what to do."""

    def __init__(self, message: str, *, reason: Reason) -> None:
        super().__init__(message)
        self.reason = reason


@dataclasses.dataclass(frozen=True)
class Concentrate:
    """What is added: ``strength_ww`` % w/w active of ``solute``, at ``temperature_c`` °C.

    ``density_kg_l`` kg/L as on its data sheet; needed where ``SOLUTES`` does not know the solute.
    """

    solute: str
    strength_ww: float
    temperature_c: float = ROOM_TEMPERATURE_C
    density_kg_l: float | None = None

    def kg_l(self) -> float:
        """Density in kg/L: the stated one, or the table's; ``NotConvertible`` without either."""
        if self.density_kg_l is not None:
            return require("density of the concentrate", self.density_kg_l, unit="kg/L",
                           minimum=0.5, maximum=2.5)  # fmt: skip
        if self.solute not in SOLUTES:
            raise NotConvertible(f"Enter the density of the {self.solute} concentrate in kg/L.")
        return solution_density_kg_l(
            solute=self.solute, strength_ww=self.strength_ww, temperature_c=self.temperature_c
        )


@dataclasses.dataclass(frozen=True)
class Batch:
    """Amounts of a make-up or a top-up: kg, and L at the temperatures stated.

    ``start_*`` is what was in the tank (0 in a make-up). ``parts_l`` is the sum of the parts'
    volumes, which is not ``solution_l``. ``heat_at_most_kj`` and ``rise_at_most_k`` bound the
    heat of dilution from above (typically it is half of that for 50 % caustic); ``None`` where
    it is not known. ``order`` says what goes into what.
    """

    solute: str
    temperature_c: float
    target_ww: float
    solution_kg: float
    solution_l: float
    solution_kg_l: float
    active_kg: float
    start_kg: float
    start_active_kg: float
    concentrate_kg: float
    concentrate_l: float
    concentrate_kg_l: float
    water_kg: float
    water_l: float
    water_kg_l: float
    parts_l: float
    heat_at_most_kj: float | None
    rise_at_most_k: float | None
    working: tuple[WorkingLine, ...]
    order: str = ORDER_RULE


def batch_density_kg_l(*, solute: str, strength_ww: float, temperature_c: float) -> float:
    """Density of a solution in kg/L, as water where it is dilute and has no table.

    ``solute`` of ``strength_ww`` % w/w at ``temperature_c`` °C. Error below 0.5 % without a
    table, else as :func:`~density.solution_density_kg_l`. Raises :class:`OutOfRange` outside
    the table, or above ``DILUTE_WW`` % w/w without one.

    >>> round(batch_density_kg_l(solute="PAA", strength_ww=0.02, temperature_c=20), 4)
    0.9982
    """
    if solute in SOLUTES:
        return solution_density_kg_l(
            solute=solute, strength_ww=strength_ww, temperature_c=temperature_c
        )
    require(
        f"strength of {solute} (density known only when dilute)",
        strength_ww,
        unit="% w/w",
        minimum=0,
        maximum=DILUTE_WW,
    )
    return water_density_kg_l(temperature_c=temperature_c)


def check_target(*, target_ww: float, concentrate: Concentrate) -> None:
    """Refuse ``target_ww`` % w/w that ``concentrate`` cannot give: :class:`Infeasible`.

    >>> check_target(target_ww=2, concentrate=Concentrate("NaOH", 50))
    """
    require("strength of the concentrate", concentrate.strength_ww, unit="% w/w", minimum=0,
            maximum=100, above=True)  # fmt: skip
    require("target strength", target_ww, unit="% w/w", minimum=0, maximum=100, above=True)
    if target_ww >= concentrate.strength_ww:
        raise Infeasible(
            f"A concentrate of {shown(concentrate.strength_ww)} % w/w cannot give "
            f"{shown(target_ww)} % w/w. Choose a stronger one.",
            reason="concentrate_too_weak",
        )


def heat_of_dilution_at_most_kj(*, solute: str, active_kg: float) -> float | None:
    """The most heat, in kJ, that diluting a concentrate can set free; ``None`` if not known.

    ``solute`` is NaOH, KOH, HNO3 or H3PO4, ``active_kg`` the kg of it that the concentrate
    brings. The bound is the heat of dissolving the pure substance in endless water [1]_, most of
    which was set free when the concentrate itself was made. Raises :class:`OutOfRange` for a
    negative mass.

    >>> round(heat_of_dilution_at_most_kj(solute="NaOH", active_kg=20.4))
    22595

    References
    ----------
    .. [1] CRC Handbook of Chemistry and Physics, standard thermodynamic properties, 25 °C.
    """
    require("active substance", active_kg, unit="kg", minimum=0)
    heat_kj_mol = HEAT_OF_SOLUTION_KJ_MOL.get(solute)
    if heat_kj_mol is None:
        return None
    return active_kg * 1000 / molar_mass_g_mol(solute) * heat_kj_mol


@dataclasses.dataclass(frozen=True)
class Start:
    """What is in the tank before anything is added: kg, L and % w/w."""

    kg: float = 0.0
    litres: float = 0.0
    strength_ww: float = 0.0

    @property
    def active_kg(self) -> float:
        """kg of active substance."""
        return self.kg * self.strength_ww / 100


def finished_batch(
    *,
    concentrate: Concentrate,
    target_ww: float,
    temperature_c: float,
    water_temperature_c: float | None,
    concentrate_kg: float,
    water_kg: float,
    start: Start,
    first_lines: tuple[WorkingLine, ...],
) -> Batch:
    """The volumes, the heat and the rest of the working, once both masses are known.

    ``concentrate_kg`` kg of ``concentrate`` and ``water_kg`` kg of water, measured at
    ``water_temperature_c`` °C (``temperature_c`` if ``None``), added to ``start``, give a
    solution of ``target_ww`` % w/w at ``temperature_c`` °C; ``first_lines`` is the working so
    far. Raises :class:`OutOfRange` outside a density's range.
    """
    solution_kg = start.kg + concentrate_kg + water_kg
    solution_kg_l = batch_density_kg_l(
        solute=concentrate.solute, strength_ww=target_ww, temperature_c=temperature_c
    )
    concentrate_kg_l = concentrate.kg_l()
    water_kg_l = water_density_kg_l(
        temperature_c=temperature_c if water_temperature_c is None else water_temperature_c
    )
    concentrate_l, water_l = concentrate_kg / concentrate_kg_l, water_kg / water_kg_l
    active_kg = start.active_kg + concentrate_kg * concentrate.strength_ww / 100
    heat_kj = heat_of_dilution_at_most_kj(
        solute=concentrate.solute, active_kg=concentrate_kg * concentrate.strength_ww / 100
    )
    # The dissolved share is given no heat capacity, which errs to the warm side.
    rise_k = heat_kj and heat_kj / (
        solution_kg * (1 - target_ww / 100) * _WATER_HEAT_CAPACITY_KJ_KG_K
    )
    lines = [
        *first_lines,
        WorkingLine(
            "concentrate by volume", "kg ÷ ρ", f"{shown(concentrate_kg)} ÷ "
            f"{shown(concentrate_kg_l)}", concentrate_l, "L",
        ),
        WorkingLine(
            "water by volume", "kg ÷ ρ", f"{shown(water_kg)} ÷ {shown(water_kg_l)}", water_l, "L"
        ),
        WorkingLine(
            "finished solution by volume", "kg ÷ ρ", f"{shown(solution_kg)} ÷ "
            f"{shown(solution_kg_l)}", solution_kg / solution_kg_l, "L",
        ),
    ]  # fmt: skip
    if heat_kj is not None and rise_k is not None:
        lines.append(
            WorkingLine(
                "warms by at most", "Q ÷ (m (1 − w) c)",
                f"{shown(heat_kj)} ÷ ({shown(solution_kg)} × {shown(1 - target_ww / 100)} × "
                f"{digits(_WATER_HEAT_CAPACITY_KJ_KG_K, '')})", rise_k, "K",
            )
        )  # fmt: skip
    return Batch(
        solute=concentrate.solute,
        temperature_c=temperature_c,
        target_ww=target_ww,
        solution_kg=solution_kg,
        solution_l=solution_kg / solution_kg_l,
        solution_kg_l=solution_kg_l,
        active_kg=active_kg,
        start_kg=start.kg,
        start_active_kg=start.active_kg,
        concentrate_kg=concentrate_kg,
        concentrate_l=concentrate_l,
        concentrate_kg_l=concentrate_kg_l,
        water_kg=water_kg,
        water_l=water_l,
        water_kg_l=water_kg_l,
        parts_l=start.litres + concentrate_l + water_l,
        heat_at_most_kj=heat_kj,
        rise_at_most_k=rise_k,
        working=tuple(lines),
    )
