"""Making a solution up from its concentrate: to a volume, or into a volume of water."""

from brewhygiene.science.errors import require
from brewhygiene.science.solutions.batch import (
    Batch,
    Concentrate,
    Start,
    batch_density_kg_l,
    check_target,
    finished_batch,
)
from brewhygiene.science.solutions.density import water_density_kg_l
from brewhygiene.science.solutions.strength import ROOM_TEMPERATURE_C
from brewhygiene.science.working import WorkingLine, shown


def make_up_to_volume(
    *,
    concentrate: Concentrate,
    target_ww: float,
    volume_l: float,
    temperature_c: float = ROOM_TEMPERATURE_C,
    water_temperature_c: float | None = None,
) -> Batch:
    """Concentrate and water for ``volume_l`` L of finished solution.

    m = V ρ; concentrate = m w / w_c; water = m − concentrate. ``target_ww`` % w/w wanted, in a
    volume that is at ``temperature_c`` °C; ``water_temperature_c`` °C of the water as it is
    measured (the solution's if not given); ``concentrate`` its strength in % w/w. Errors are
    those of the densities, below 0.7 %. Raises :class:`Infeasible` for a concentrate no stronger
    than the target, :class:`OutOfRange` outside a density's range or for a volume not above 0.

    >>> made = make_up_to_volume(
    ...     concentrate=Concentrate("NaOH", 50), target_ww=2, volume_l=1000)
    >>> round(made.concentrate_kg, 2), round(made.concentrate_l, 2), round(made.water_l, 1)
    (40.83, 26.77, 981.6)

    References
    ----------
    .. [1] Mass balance; densities as in :mod:`~density`.
    """
    check_target(target_ww=target_ww, concentrate=concentrate)
    require("volume", volume_l, unit="L", minimum=0, above=True)
    density = batch_density_kg_l(
        solute=concentrate.solute, strength_ww=target_ww, temperature_c=temperature_c
    )
    solution_kg = volume_l * density
    active_kg = solution_kg * target_ww / 100
    concentrate_kg = active_kg / concentrate.strength_ww * 100
    water_kg = solution_kg - concentrate_kg
    return finished_batch(
        concentrate=concentrate,
        target_ww=target_ww,
        temperature_c=temperature_c,
        water_temperature_c=water_temperature_c,
        concentrate_kg=concentrate_kg,
        water_kg=water_kg,
        start=Start(),
        first_lines=(
            WorkingLine(
                "finished solution", "V · ρ", f"{shown(volume_l)} × {shown(density)}", solution_kg,
                "kg",
            ),
            WorkingLine(
                "active substance", "m · w ÷ 100", f"{shown(solution_kg)} × {shown(target_ww)} "
                "÷ 100", active_kg, "kg",
            ),
            WorkingLine(
                "concentrate", "active × 100 ÷ its strength", f"{shown(active_kg)} × 100 ÷ "
                f"{shown(concentrate.strength_ww)}", concentrate_kg, "kg",
            ),
            WorkingLine(
                "water", "finished − concentrate", f"{shown(solution_kg)} − "
                f"{shown(concentrate_kg)}", water_kg, "kg",
            ),
        ),
    )  # fmt: skip


def make_up_into_water(
    *,
    concentrate: Concentrate,
    target_ww: float,
    water_l: float,
    temperature_c: float = ROOM_TEMPERATURE_C,
    water_temperature_c: float | None = None,
) -> Batch:
    """Concentrate to add to ``water_l`` L of water, and the volume that comes of it.

    concentrate = m_water · w / (w_c − w). ``target_ww`` % w/w wanted of ``concentrate``;
    ``temperature_c`` °C at which the finished volume is stated, ``water_temperature_c`` °C at
    which the water was measured (the same if not given). Errors and refusals as
    :func:`make_up_to_volume`, which answers another question: its 1000 L hold 2 % less than
    1000 L of water become.

    >>> made = make_up_into_water(
    ...     concentrate=Concentrate("NaOH", 50), target_ww=2, water_l=1000)
    >>> round(made.concentrate_kg, 2), round(made.concentrate_l, 2), round(made.solution_l)
    (41.59, 27.27, 1019)
    """
    check_target(target_ww=target_ww, concentrate=concentrate)
    require("water", water_l, unit="L", minimum=0, above=True)
    density = water_density_kg_l(
        temperature_c=temperature_c if water_temperature_c is None else water_temperature_c
    )
    water_kg = water_l * density
    concentrate_kg = water_kg * target_ww / (concentrate.strength_ww - target_ww)
    return finished_batch(
        concentrate=concentrate,
        target_ww=target_ww,
        temperature_c=temperature_c,
        water_temperature_c=water_temperature_c,
        concentrate_kg=concentrate_kg,
        water_kg=water_kg,
        start=Start(),
        first_lines=(
            WorkingLine("water", "V · ρ", f"{shown(water_l)} × {shown(density)}", water_kg, "kg"),
            WorkingLine(
                "concentrate", "water · w ÷ (its strength − w)",
                f"{shown(water_kg)} × {shown(target_ww)} ÷ ({shown(concentrate.strength_ww)} − "
                f"{shown(target_ww)})", concentrate_kg, "kg",
            ),
            WorkingLine(
                "finished solution", "water + concentrate", f"{shown(water_kg)} + "
                f"{shown(concentrate_kg)}", water_kg + concentrate_kg, "kg",
            ),
        ),
    )  # fmt: skip
