"""Carbon dioxide left in a tank: how much, the caustic that it eats, and how to purge it.

References
----------
.. [1] CODATA 2018: R = 8.314462618 J/(mol K). Molar masses from IUPAC's standard atomic weights.
.. [2] IAPWS R7-97(2012), saturation pressure of water.
"""

import dataclasses
import math

from brewhygiene.science.arrays import pointwise
from brewhygiene.science.errors import Numbers, require
from brewhygiene.science.tank.water import ATMOSPHERE_PA, ZERO_C_K, saturation_pressure_kpa
from brewhygiene.science.working import WorkingLine, shown

R_J_MOL_K = 8.314462618
CO2_G_MOL = 44.0095
CAUSTIC_G_MOL = {"NaOH": 39.9971, "KOH": 56.1056}
CARBONATE_G_MOL = {"NaOH": 105.9884, "KOH": 138.2055}
ATMOSPHERE_MBAR = ATMOSPHERE_PA / 100

IDEAL_GAS = (
    "Carbon dioxide as an ideal gas is up to 1.3 % too little at 1 bar gauge pressure and 4 °C, "
    "and 3 % at 3 bar and 0 °C."
)


def pressure_abs_mbar(*, gauge_mbar: Numbers, atmosphere_mbar: float = ATMOSPHERE_MBAR) -> Numbers:
    """Absolute pressure, mbar, from ``gauge_mbar``, what a gauge shows above atmospheric pressure.

    ``atmosphere_mbar`` 500 to 1100 mbar. Raises :class:`OutOfRange` below a full vacuum.

    >>> pressure_abs_mbar(gauge_mbar=1000)
    2013.25
    """
    require("atmospheric pressure", atmosphere_mbar, unit="mbar", minimum=500, maximum=1100)
    require("gauge pressure", gauge_mbar, unit="mbar", minimum=-atmosphere_mbar)
    return gauge_mbar + atmosphere_mbar


def co2_in_headspace_kg(
    *,
    volume_hl: Numbers,
    temperature_c: Numbers,
    pressure_abs_mbar: Numbers,
    co2_fraction: Numbers,
    saturated: bool = False,
) -> Numbers:
    """Carbon dioxide in a headspace, kg: n = y (P − p) V / (R T) of an ideal gas.

    ``volume_hl`` hL of gas, from 0; ``temperature_c`` 0 to 100 °C; ``pressure_abs_mbar`` mbar
    absolute, above 0 to 5000; ``co2_fraction`` y, 0 to 1 by volume of the dry gas; ``saturated``
    takes off the vapour pressure p of water [2]_. An ideal gas is 0.5 % (1 bar, 20 °C) to 1.3 %
    (2 bar, 4 °C) below the real one. Raises :class:`OutOfRange`.

    >>> round(co2_in_headspace_kg(volume_hl=10, temperature_c=4, pressure_abs_mbar=2000,
    ...                           co2_fraction=1.0), 5)  # 1 m³ at 2 bar
    3.81968
    """
    require("volume of gas", volume_hl, unit="hL", minimum=0)
    require("temperature", temperature_c, unit="°C", minimum=0, maximum=100)
    require("pressure", pressure_abs_mbar, unit="mbar absolute", minimum=0, maximum=5000,
            above=True)  # fmt: skip
    require("share of carbon dioxide", co2_fraction, minimum=0, maximum=1)
    dry_mbar = pressure_abs_mbar
    if saturated:
        vapour_mbar = saturation_pressure_kpa(temperature_c=temperature_c) * 10
        dry_mbar = require("pressure left beside water's vapour at this temperature",
                           dry_mbar - vapour_mbar, unit="mbar", minimum=0)  # fmt: skip
    moles = (
        co2_fraction * dry_mbar * 100 * volume_hl / 10 / (R_J_MOL_K * (temperature_c + ZERO_C_K))
    )
    return moles * CO2_G_MOL / 1000


def caustic_for_co2_kg(*, co2_kg: Numbers, caustic: str = "NaOH") -> Numbers:
    """Caustic that carbon dioxide consumes, kg: 2 NaOH + CO2 → Na2CO3 + H2O.

    ``co2_kg`` kg from 0; ``caustic`` NaOH or KOH. In excess caustic the product is carbonate,
    not bicarbonate. Raises :class:`OutOfRange` for less than 0, ``KeyError`` for another.

    >>> round(caustic_for_co2_kg(co2_kg=5.489), 2)  # 30 hL of it at 20 °C, 1 atm
    9.98
    """
    require("carbon dioxide", co2_kg, unit="kg", minimum=0)
    return co2_kg * (2 * CAUSTIC_G_MOL[caustic] / CO2_G_MOL)


@dataclasses.dataclass(frozen=True)
class CausticLoss:
    """What carbon dioxide makes of a caustic solution; strengths in % w/w."""

    caustic: str
    co2_kg: float
    caustic_before_kg: float
    caustic_consumed_kg: float
    caustic_left_kg: float
    caustic_short_kg: float
    carbonate_formed_kg: float
    co2_taken_up_kg: float
    strength_before_ww: float
    strength_left_ww: float
    working: tuple[WorkingLine, ...]

    @property
    def exhausted(self) -> bool:
        """Whether there is more carbon dioxide than the caustic can turn to carbonate."""
        return self.caustic_short_kg > 0


def caustic_loss(
    *, co2_kg: float, solution_kg: float, strength_ww: float, caustic: str = "NaOH"
) -> CausticLoss:
    """The strength left in a caustic solution once it has taken up carbon dioxide.

    ``co2_kg`` kg from 0; ``solution_kg`` kg of solution, above 0; ``strength_ww`` % w/w, 0 to
    50; ``caustic`` NaOH or KOH. All of the gas is taken up, and the solution grows by its mass.
    Where the gas is more than the caustic can turn to carbonate, nothing of it is left and
    ``caustic_short_kg`` says how much more would have been used; the carbonate then takes up
    gas itself, as bicarbonate, which is not counted. Raises :class:`OutOfRange`.

    >>> round(caustic_loss(co2_kg=1, solution_kg=1000, strength_ww=2.0).strength_left_ww, 3)
    1.816
    """
    require("carbon dioxide", co2_kg, unit="kg", minimum=0)
    require("solution", solution_kg, unit="kg", minimum=0, above=True)
    require("strength", strength_ww, unit="% w/w", minimum=0, maximum=50)
    before_kg = solution_kg * strength_ww / 100
    wanted_kg = caustic_for_co2_kg(co2_kg=co2_kg, caustic=caustic)
    per_co2 = 2 * CAUSTIC_G_MOL[caustic] / CO2_G_MOL
    consumed_kg = min(wanted_kg, before_kg)
    taken_up_kg = consumed_kg / per_co2
    left_kg = before_kg - consumed_kg
    left_ww = 100 * left_kg / (solution_kg + taken_up_kg)
    carbonate_kg = taken_up_kg * CARBONATE_G_MOL[caustic] / CO2_G_MOL
    return CausticLoss(
        caustic=caustic,
        co2_kg=co2_kg,
        caustic_before_kg=before_kg,
        caustic_consumed_kg=consumed_kg,
        caustic_left_kg=left_kg,
        caustic_short_kg=wanted_kg - consumed_kg,
        carbonate_formed_kg=carbonate_kg,
        co2_taken_up_kg=taken_up_kg,
        strength_before_ww=strength_ww,
        strength_left_ww=left_ww,
        working=(
            WorkingLine(f"{caustic} before", "solution × strength",
                        f"{shown(solution_kg)} × {shown(strength_ww)} / 100", before_kg, "kg"),
            WorkingLine(f"{caustic} that the gas can use",
                        f"CO2 × 2 × {shown(CAUSTIC_G_MOL[caustic])} / {shown(CO2_G_MOL)}",
                        f"{shown(co2_kg)} × {shown(per_co2)}", wanted_kg, "kg"),
            WorkingLine(f"{caustic} left", "before − used",
                        f"{shown(before_kg)} − {shown(consumed_kg)}", left_kg, "kg"),
            WorkingLine("strength left", "100 × left / (solution + gas taken up)",
                        f"100 × {shown(left_kg)} / ({shown(solution_kg)} + {shown(taken_up_kg)})",
                        left_ww, "% w/w"),
            WorkingLine("carbonate formed", "gas taken up × M(carbonate) / M(CO2)",
                        f"{shown(taken_up_kg)} × {shown(CARBONATE_G_MOL[caustic])} / "
                        f"{shown(CO2_G_MOL)}", carbonate_kg, "kg"),
        ),
    )  # fmt: skip


def purge_volumes(*, co2_fraction: Numbers, target_fraction: Numbers) -> Numbers:
    """Vessel volumes of air that bring carbon dioxide down, ideally mixed: n = ln(y₀ / y).

    ``co2_fraction`` y₀ and ``target_fraction`` y by volume, above 0 and at most 1. None are
    needed where y₀ is at or below y. Cold carbon dioxide is heavy and lies at the bottom of a
    tank: blown in at the bottom it takes less, at the top it may take much more. Measure, do not
    assume. Raises :class:`OutOfRange`.

    >>> round(purge_volumes(co2_fraction=1.0, target_fraction=0.01), 5)  # ln 100
    4.60517
    """
    require("share of carbon dioxide", co2_fraction, minimum=0, maximum=1)
    require("share to reach", target_fraction, minimum=0, maximum=1, above=True)
    return pointwise(
        lambda before, after: math.log(max(before / after, 1.0)), co2_fraction, target_fraction
    )


@dataclasses.dataclass(frozen=True)
class Purge:
    """Air to blow through a vessel, ideally mixed; minutes only where a flow is given."""

    volumes: float
    air_hl: float
    minutes: float | None
    working: tuple[WorkingLine, ...]


def purge(
    *,
    volume_hl: float,
    co2_fraction: float,
    target_fraction: float,
    air_flow_m3_h: float | None = None,
) -> Purge:
    """Air to bring a vessel below a share of carbon dioxide, hL, and its time in minutes.

    ``volume_hl`` hL above 0; ``co2_fraction`` and ``target_fraction`` by volume, as in
    :func:`purge_volumes`; ``air_flow_m3_h`` m³/h above 0, if known. Raises :class:`OutOfRange`.

    >>> round(purge(volume_hl=30, co2_fraction=1, target_fraction=0.005).air_hl)
    159
    """
    require("volume", volume_hl, unit="hL", minimum=0, above=True)
    volumes = purge_volumes(co2_fraction=float(co2_fraction), target_fraction=target_fraction)
    air_hl = volumes * volume_hl
    working = [
        WorkingLine("volumes of air", "ln(y₀ / y)",
                    f"ln({shown(co2_fraction)} / {shown(target_fraction)})", volumes),
        WorkingLine("air", "volumes × vessel", f"{shown(volumes)} × {shown(volume_hl)}", air_hl,
                    "hL"),
    ]  # fmt: skip
    minutes = None
    if air_flow_m3_h is not None:
        require("flow of air", air_flow_m3_h, unit="m³/h", minimum=0, above=True)
        minutes = air_hl / 10 / air_flow_m3_h * 60
        working.append(
            WorkingLine("time", "60 × air / flow",
                        f"60 × {shown(air_hl / 10)} m³ / {shown(air_flow_m3_h)} m³/h", minutes,
                        "min")
        )  # fmt: skip
    return Purge(volumes=volumes, air_hl=air_hl, minutes=minutes, working=tuple(working))
