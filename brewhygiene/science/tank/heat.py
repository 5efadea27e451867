"""Heat to warm a cleaning solution and the steel that it meets, and the time that it takes.

References
----------
.. [1] Laliberté M., J. Chem. Eng. Data 54 (2009) 1725: heat capacity of solutions.
.. [2] EN 10088-1, austenitic stainless steel: 500 J/(kg K). From memory.
"""

import dataclasses

from brewhygiene.quantities.style import digits
from brewhygiene.science.errors import OutOfRange, require
from brewhygiene.science.tank.water import heat_capacity_kj_kg_k
from brewhygiene.science.working import WorkingLine, shown

STEEL_KJ_KG_K = 0.5
KJ_PER_KWH = 3600.0
_SIMPSON = (1, 4, 2, 4, 2, 4, 2, 4, 1)


@dataclasses.dataclass(frozen=True)
class Heating:
    """Energy and time of a warm-up. ``minutes`` only with a heater given."""

    solution_kg: float
    steel_kg: float
    rise_k: float
    heat_capacity_kj_kg_k: float
    solution_kwh: float
    steel_kwh: float
    energy_kwh: float
    bought_kwh: float
    minutes: float | None
    working: tuple[WorkingLine, ...]


def mean_heat_capacity_kj_kg_k(
    *, from_c: float, to_c: float, solute: str = "", strength_ww: float = 0.0
) -> float:
    """Mean heat capacity between two temperatures, kJ/(kg K), by Simpson's rule on nine points.

    ``from_c`` and ``to_c`` °C; ``solute`` and ``strength_ww`` (% w/w) as in
    :func:`~brewhygiene.science.tank.water.heat_capacity_kj_kg_k`, whose errors are raised.

    >>> round(mean_heat_capacity_kj_kg_k(from_c=15, to_c=75, solute="NaOH", strength_ww=2), 3)
    4.083
    """
    total = sum(
        weight
        * heat_capacity_kj_kg_k(
            temperature_c=from_c + (to_c - from_c) * place / 8,
            solute=solute,
            strength_ww=strength_ww,
        )
        for place, weight in enumerate(_SIMPSON)
    )
    return total / sum(_SIMPSON)


def heating(
    *,
    solution_kg: float,
    from_c: float,
    to_c: float,
    solute: str = "",
    strength_ww: float = 0.0,
    steel_kg: float = 0.0,
    steel_from_c: float | None = None,
    heater_kw: float | None = None,
    efficiency: float = 1.0,
) -> Heating:
    """Energy (kWh) and minutes to warm a solution, and the steel of the vessel with it.

    Q = m c ΔT for each; the steel ends at the solution's temperature.

    ``solution_kg`` kg from 0; ``from_c`` to ``to_c`` °C, the second not below the first;
    ``solute`` NaOH, KOH, HNO3 or empty for water, at ``strength_ww`` % w/w; ``steel_kg`` kg of
    stainless steel from 0, at ``steel_from_c`` °C (that of the solution if not given);
    ``heater_kw`` kW above 0, if known; ``efficiency``, the share of it that ends up in solution
    and steel, above 0 to 1. Heat of dilution and loss from the wall while warm are not in it,
    except as ``efficiency`` says. Raises :class:`OutOfRange`.

    >>> warm = heating(solution_kg=1021.98, from_c=15, to_c=75, solute="NaOH", strength_ww=2)
    >>> round(warm.energy_kwh, 2)
    69.55
    """
    require("solution", solution_kg, unit="kg", minimum=0)
    require("steel", steel_kg, unit="kg", minimum=0)
    require("efficiency", efficiency, minimum=0, maximum=1, above=True)
    if to_c < from_c:
        raise OutOfRange(
            f"The end ({shown(to_c)} °C) is colder than the start ({shown(from_c)} °C). Enter an "
            "end temperature above the start.",
            quantity="end temperature",
            value=to_c,
            minimum=from_c,
            unit="°C",
        )
    steel_start_c = from_c if steel_from_c is None else steel_from_c
    require("temperature of the steel", steel_start_c, unit="°C", minimum=-30, maximum=to_c)
    capacity = mean_heat_capacity_kj_kg_k(
        from_c=from_c, to_c=to_c, solute=solute, strength_ww=strength_ww
    )
    rise_k = to_c - from_c
    solution_kwh = solution_kg * capacity * rise_k / KJ_PER_KWH
    steel_kwh = steel_kg * STEEL_KJ_KG_K * (to_c - steel_start_c) / KJ_PER_KWH
    energy_kwh = solution_kwh + steel_kwh
    working = [
        WorkingLine("mean heat capacity", "Simpson's rule over the range",
                    f"{shown(from_c)} to {shown(to_c)} °C", capacity, "kJ/(kg K)"),
        WorkingLine("solution", "m c ΔT / 3600",
                    f"{shown(solution_kg)} × {shown(capacity)} × {shown(rise_k)} / 3600",
                    solution_kwh, "kWh"),
        WorkingLine("steel", "m c ΔT / 3600",
                    f"{shown(steel_kg)} × {digits(STEEL_KJ_KG_K, '')} × "
                    f"{shown(to_c - steel_start_c)} / 3600",
                    steel_kwh, "kWh"),
        WorkingLine("together", "solution + steel",
                    f"{shown(solution_kwh)} + {shown(steel_kwh)}", energy_kwh, "kWh"),
    ]  # fmt: skip
    bought_kwh = energy_kwh / efficiency
    working.append(
        WorkingLine("energy bought", "together / efficiency",
                    f"{shown(energy_kwh)} / {shown(efficiency)}", bought_kwh, "kWh")
    )  # fmt: skip
    minutes = None
    if heater_kw is not None:
        require("heater", heater_kw, unit="kW", minimum=0, above=True)
        minutes = bought_kwh / heater_kw * 60
        working.append(
            WorkingLine("time", "60 × energy bought / heater",
                        f"60 × {shown(bought_kwh)} / {shown(heater_kw)}", minutes, "min")
        )  # fmt: skip
    return Heating(
        solution_kg=solution_kg,
        steel_kg=steel_kg,
        rise_k=rise_k,
        heat_capacity_kj_kg_k=capacity,
        solution_kwh=solution_kwh,
        steel_kwh=steel_kwh,
        energy_kwh=energy_kwh,
        bought_kwh=bought_kwh,
        minutes=minutes,
        working=tuple(working),
    )


def temperature_on_steel_c(
    *,
    solution_kg: float,
    solution_c: float,
    steel_kg: float,
    steel_c: float,
    solute: str = "",
    strength_ww: float = 0.0,
) -> float:
    """Where a hot solution ends, °C, once the cold steel of a vessel has taken its share.

    (m c T + m' c' T') / (m c + m' c'), with no loss to the air. ``solution_kg`` kg above 0 at
    ``solution_c`` °C; ``steel_kg`` kg from 0 at ``steel_c``, −30 to 100 °C; ``solute`` and
    ``strength_ww`` % w/w as in :func:`heating`. Raises :class:`OutOfRange`.

    >>> round(temperature_on_steel_c(solution_kg=200, solution_c=80, steel_kg=800, steel_c=10), 1)
    57.4
    """
    require("solution", solution_kg, unit="kg", minimum=0, above=True)
    require("steel", steel_kg, unit="kg", minimum=0)
    require("temperature of the steel", steel_c, unit="°C", minimum=-30, maximum=100)
    wet = solution_kg * heat_capacity_kj_kg_k(
        temperature_c=solution_c, solute=solute, strength_ww=strength_ww
    )
    steel = steel_kg * STEEL_KJ_KG_K
    return (wet * solution_c + steel * steel_c) / (wet + steel)
