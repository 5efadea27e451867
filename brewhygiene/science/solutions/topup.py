"""A recovered solution: topped up, set right in its tank, or thinned by what runs back into it."""

import dataclasses

from brewhygiene.quantities.style import digits
from brewhygiene.science.errors import require
from brewhygiene.science.solutions.batch import (
    Batch,
    Concentrate,
    Infeasible,
    Start,
    batch_density_kg_l,
    check_target,
    finished_batch,
)
from brewhygiene.science.solutions.strength import ROOM_TEMPERATURE_C
from brewhygiene.science.working import WorkingLine, shown

# Less than this share of the finished mass is nothing to add, and nothing too much.
_NOTHING = 1e-9


def _start(
    concentrate: Concentrate, volume_l: float, strength_ww: float, temperature_c: float
) -> Start:
    require("volume in the tank", volume_l, unit="L", minimum=0, above=True)
    require("strength in the tank", strength_ww, unit="% w/w", minimum=0, maximum=100)
    density = batch_density_kg_l(
        solute=concentrate.solute, strength_ww=strength_ww, temperature_c=temperature_c
    )
    return Start(kg=volume_l * density, litres=volume_l, strength_ww=strength_ww)


def _litres(kg: float, start: Start) -> str:
    """``kg`` of what is in the tank as whole litres, rounded up."""
    return f"{digits(-(-kg * start.litres // start.kg), 'g')} L"


def _refuse_what_cannot_be(
    *, start: Start, concentrate: Concentrate, target_ww: float, finished_kg: float
) -> None:
    """Refuse a top-up that would need a negative mass, saying how much to drain first."""
    slack_kg = finished_kg * _NOTHING
    active_wanted_kg = finished_kg * target_ww / 100
    if start.strength_ww > target_ww and start.active_kg > active_wanted_kg + slack_kg:
        drain_kg = start.kg - active_wanted_kg / start.strength_ww * 100
        raise Infeasible(
            f"The tank already contains {shown(start.active_kg)} kg active, more than the "
            f"{shown(active_wanted_kg)} kg that the finished volume needs. Drain "
            f"{_litres(drain_kg, start)} first, or dilute to a larger volume.",
            reason="too_strong",
        )
    concentrate_kg = (active_wanted_kg - start.active_kg) / concentrate.strength_ww * 100
    if start.kg + concentrate_kg > finished_kg + slack_kg:
        kept_kg = (
            finished_kg
            * (concentrate.strength_ww - target_ww)
            / (concentrate.strength_ww - start.strength_ww)
        )
        raise Infeasible(
            "The tank is too full. Its solution and the concentrate are more than the finished "
            f"volume. Drain {_litres(start.kg - kept_kg, start)} first.",
            reason="too_full",
        )


def top_up(
    *,
    concentrate: Concentrate,
    present_l: float,
    present_ww: float,
    target_ww: float,
    volume_l: float,
    temperature_c: float = ROOM_TEMPERATURE_C,
    water_temperature_c: float | None = None,
    capacity_l: float | None = None,
) -> Batch:
    """Concentrate and water that bring a recovered tank to a strength and a volume.

    concentrate = (M w − m0 w0) / w_c and water = M − m0 − concentrate, with M = V ρ(w) the
    finished and m0 = V0 ρ(w0) the present mass.

    ``present_l`` L of ``present_ww`` % w/w (as titrated) become ``volume_l`` L of ``target_ww``
    % w/w; both volumes are at ``temperature_c`` °C, the water is measured at
    ``water_temperature_c`` °C (the same if not given), and ``concentrate`` is % w/w.
    ``capacity_l`` L is what the tank holds. Errors are those of the densities, below 0.7 %, and
    of the titration. Raises :class:`Infeasible` with its reason (concentrate too weak, tank too
    full, already too strong) and what to drain, :class:`OutOfRange` outside a density's range.

    >>> topped = top_up(concentrate=Concentrate("NaOH", 50), present_l=800, present_ww=1.4,
    ...                 target_ww=2, volume_l=1000)
    >>> round(topped.concentrate_kg, 1), round(topped.water_l)
    (18.1, 192)

    References
    ----------
    .. [1] Mass balance; densities as in :mod:`~density`.
    """
    check_target(target_ww=target_ww, concentrate=concentrate)
    require("volume wanted", volume_l, unit="L", minimum=0, above=True)
    if capacity_l is not None and volume_l > capacity_l:
        raise Infeasible(
            f"{shown(volume_l)} L does not fit into a tank of {shown(capacity_l)} L.",
            reason="too_full",
        )
    start = _start(concentrate, present_l, present_ww, temperature_c)
    density = batch_density_kg_l(
        solute=concentrate.solute, strength_ww=target_ww, temperature_c=temperature_c
    )
    finished_kg = volume_l * density
    _refuse_what_cannot_be(
        start=start, concentrate=concentrate, target_ww=target_ww, finished_kg=finished_kg
    )
    active_kg = finished_kg * target_ww / 100
    missing_kg = max(active_kg - start.active_kg, 0.0)
    concentrate_kg = missing_kg / concentrate.strength_ww * 100
    water_kg = max(finished_kg - start.kg - concentrate_kg, 0.0)
    return finished_batch(
        concentrate=concentrate,
        target_ww=target_ww,
        temperature_c=temperature_c,
        water_temperature_c=water_temperature_c,
        concentrate_kg=concentrate_kg,
        water_kg=water_kg,
        start=start,
        first_lines=(
            _present_line(start),
            _present_active_line(start),
            WorkingLine(
                "finished solution", "V · ρ", f"{shown(volume_l)} × {shown(density)}",
                finished_kg, "kg",
            ),
            WorkingLine(
                "active substance needed", "m · w ÷ 100",
                f"{shown(finished_kg)} × {shown(target_ww)} ÷ 100", active_kg, "kg",
            ),
            WorkingLine(
                "concentrate", "(needed − present) × 100 ÷ its strength",
                f"({shown(active_kg)} − {shown(start.active_kg)}) × 100 ÷ "
                f"{shown(concentrate.strength_ww)}", concentrate_kg, "kg",
            ),
            WorkingLine(
                "water", "finished − present − concentrate",
                f"{shown(finished_kg)} − {shown(start.kg)} − {shown(concentrate_kg)}", water_kg,
                "kg",
            ),
        ),
    )  # fmt: skip


def _present_line(start: Start) -> WorkingLine:
    return WorkingLine(
        "present solution",
        "V · ρ",
        f"{shown(start.litres)} × {shown(start.kg / start.litres)}",
        start.kg,
        "kg",
    )


def _present_active_line(start: Start) -> WorkingLine:
    return WorkingLine(
        "active substance present",
        "m · w ÷ 100",
        f"{shown(start.kg)} × {shown(start.strength_ww)} ÷ 100",
        start.active_kg,
        "kg",
    )


def correct_strength(
    *,
    concentrate: Concentrate,
    present_l: float,
    present_ww: float,
    target_ww: float,
    temperature_c: float = ROOM_TEMPERATURE_C,
    water_temperature_c: float | None = None,
    capacity_l: float | None = None,
) -> Batch:
    """What to add to a tank, whatever its volume becomes: concentrate if weak, water if strong.

    Weak: concentrate = m0 (w − w0) / (w_c − w). Strong: water = m0 (w0 − w) / w.

    ``present_l`` L of ``present_ww`` % w/w at ``temperature_c`` °C become ``target_ww`` % w/w;
    ``concentrate`` is % w/w, ``water_temperature_c`` °C the water's as it is measured (the
    same if not given), ``capacity_l`` L what the tank holds. Errors are those of the densities,
    below 0.7 %, and of the titration. Raises :class:`Infeasible` (concentrate too weak, tank
    too full) or :class:`OutOfRange`.

    >>> weak = correct_strength(concentrate=Concentrate("NaOH", 50), present_l=1000, present_ww=1.4,
    ...                  target_ww=2)
    >>> round(weak.concentrate_l, 2), weak.water_l
    (8.31, 0.0)
    """
    check_target(target_ww=target_ww, concentrate=concentrate)
    start = _start(concentrate, present_l, present_ww, temperature_c)
    if present_ww <= target_ww:
        water_kg = 0.0
        concentrate_kg = start.kg * (target_ww - present_ww) / (concentrate.strength_ww - target_ww)
        line = WorkingLine(
            "concentrate", "m · (w − present) ÷ (its strength − w)",
            f"{shown(start.kg)} × ({shown(target_ww)} − {shown(present_ww)}) ÷ "
            f"({shown(concentrate.strength_ww)} − {shown(target_ww)})", concentrate_kg, "kg",
        )  # fmt: skip
    else:
        concentrate_kg = 0.0
        water_kg = start.kg * (present_ww - target_ww) / target_ww
        line = WorkingLine(
            "water", "m · (present − w) ÷ w",
            f"{shown(start.kg)} × ({shown(present_ww)} − {shown(target_ww)}) ÷ "
            f"{shown(target_ww)}", water_kg, "kg",
        )  # fmt: skip
    batch = finished_batch(
        concentrate=concentrate,
        target_ww=target_ww,
        temperature_c=temperature_c,
        water_temperature_c=water_temperature_c,
        concentrate_kg=concentrate_kg,
        water_kg=water_kg,
        start=start,
        first_lines=(_present_line(start), line),
    )
    if capacity_l is not None and batch.solution_l > capacity_l * (1 + _NOTHING):
        raise Infeasible(
            f"The result is {shown(batch.solution_l)} L, and the tank contains at most "
            f"{shown(capacity_l)} L. Drain some solution first.",
            reason="too_full",
        )
    return batch


@dataclasses.dataclass(frozen=True)
class Mixture:
    """Two solutions of one substance, or a solution and water, run together."""

    solute: str
    mass_kg: float
    active_kg: float
    strength_ww: float
    temperature_c: float
    density_kg_l: float
    volume_l: float
    working: tuple[WorkingLine, ...]


def mix(
    *,
    solute: str,
    first_l: float,
    first_ww: float,
    second_l: float,
    second_ww: float = 0.0,
    first_temperature_c: float = ROOM_TEMPERATURE_C,
    second_temperature_c: float = ROOM_TEMPERATURE_C,
) -> Mixture:
    """What comes of ``second_l`` L running into ``first_l`` L, as rinse water into a tank.

    w = (m1 w1 + m2 w2) / (m1 + m2); the temperature is the mean by mass, equal heat capacities
    and no heat of dilution assumed, which holds for solutions of a few per cent.

    ``first_ww`` and ``second_ww`` % w/w of ``solute`` (0 is water), volumes in L at
    ``first_temperature_c`` and ``second_temperature_c`` °C. Raises :class:`OutOfRange` outside
    a density's range or for a negative volume.

    >>> thinned = mix(solute="NaOH", first_l=1000, first_ww=2, second_l=50)
    >>> round(thinned.strength_ww, 3)
    1.907

    References
    ----------
    .. [1] Mass balance; densities as in :mod:`~density`.
    """
    require("first volume", first_l, unit="L", minimum=0, above=True)
    require("second volume", second_l, unit="L", minimum=0)
    first_kg_l = batch_density_kg_l(
        solute=solute, strength_ww=first_ww, temperature_c=first_temperature_c
    )
    second_kg_l = batch_density_kg_l(
        solute=solute, strength_ww=second_ww, temperature_c=second_temperature_c
    )
    first_kg, second_kg = first_l * first_kg_l, second_l * second_kg_l
    mass_kg = first_kg + second_kg
    active_kg = (first_kg * first_ww + second_kg * second_ww) / 100
    strength_ww = active_kg / mass_kg * 100
    temperature_c = (first_kg * first_temperature_c + second_kg * second_temperature_c) / mass_kg
    density = batch_density_kg_l(
        solute=solute, strength_ww=strength_ww, temperature_c=temperature_c
    )
    return Mixture(
        solute=solute,
        mass_kg=mass_kg,
        active_kg=active_kg,
        strength_ww=strength_ww,
        temperature_c=temperature_c,
        density_kg_l=density,
        volume_l=mass_kg / density,
        working=(
            WorkingLine("first", "V · ρ", f"{shown(first_l)} × {shown(first_kg_l)}", first_kg,
                        "kg"),
            WorkingLine("second", "V · ρ", f"{shown(second_l)} × {shown(second_kg_l)}",
                        second_kg, "kg"),
            WorkingLine(
                "active substance", "(m1 · w1 + m2 · w2) ÷ 100",
                f"({shown(first_kg)} × {shown(first_ww)} + {shown(second_kg)} × "
                f"{shown(second_ww)}) ÷ 100", active_kg, "kg",
            ),
            WorkingLine(
                "strength", "active × 100 ÷ (m1 + m2)",
                f"{shown(active_kg)} × 100 ÷ {shown(mass_kg)}", strength_ww, "% w/w",
            ),
            WorkingLine("volume", "m ÷ ρ", f"{shown(mass_kg)} ÷ {shown(density)}",
                        mass_kg / density, "L"),
        ),
    )  # fmt: skip
