"""The vacuum that a closed vessel draws when its gas is taken up by caustic, or cools.

Everything here is a static sum: gas before against gas after. It says nothing about how fast;
see ``STATIC_ONLY``, which belongs beside every vacuum that is shown.

References
----------
.. [1] Dalton's law, at constant volume; IAPWS R7-97(2012) for the saturation pressure of water.
"""

import dataclasses
from typing import Literal

from brewhygiene.science.errors import OutOfRange, require
from brewhygiene.science.tank.tank_gas import ATMOSPHERE_MBAR
from brewhygiene.science.tank.water import ZERO_C_K, saturation_pressure_kpa
from brewhygiene.science.working import WorkingLine, shown

STATIC_ONLY = (
    "This compares the gas before and after, not how fast it changes. Caustic from a spray head "
    "takes up carbon dioxide within seconds to minutes. Cold water collapses steam at once. Ask "
    "the maker whether the vacuum valve is large enough. A proven, open air path comes first."
)
Verdict = Literal["within", "over", "unrated"]


@dataclasses.dataclass(frozen=True)
class Vacuum:
    """The vacuum in a closed vessel after its gas has been taken up, or has cooled.

    ``verdict``: *over* the vessel's rating, *within* it, or *unrated*, where no rating is known.
    """

    pressure_before_mbar: float
    vapour_before_mbar: float
    vapour_after_mbar: float
    dry_gas_after_mbar: float
    pressure_after_mbar: float
    vacuum_mbar: float
    rating_mbar: float | None
    verdict: Verdict
    sentence: str
    air_to_let_in_hl_per_hl: float
    working: tuple[WorkingLine, ...]


def _judge(vacuum_mbar: float, rating_mbar: float | None) -> tuple[Verdict, str]:
    drawn = f"{vacuum_mbar:.0f} mbar"
    if vacuum_mbar <= 0:
        return "within", "No vacuum. The vessel stays at or above atmospheric pressure."
    if rating_mbar is None:
        return (
            "unrated",
            (
                f"Up to {drawn} of vacuum, and this vessel has no vacuum rating. Open an air path "
                "first."
            ),
        )
    if vacuum_mbar > rating_mbar:
        return (
            "over",
            (
                f"Up to {drawn} of vacuum, more than the {shown(rating_mbar)} mbar that this "
                "vessel is rated for. Closed, it can collapse. Vent, purge and keep an air path "
                "open."
            ),
        )
    return (
        "within",
        (
            f"Up to {drawn} of vacuum, within the {shown(rating_mbar)} mbar that this vessel is "
            "rated for. Still keep an air path open."
        ),
    )


def closed_vessel_vacuum(
    *,
    temperature_c: float,
    final_temperature_c: float,
    pressure_abs_mbar: float = ATMOSPHERE_MBAR,
    co2_fraction: float = 0.0,
    taken_up_fraction: float = 1.0,
    saturated: bool = True,
    rating_mbar: float | None = None,
    atmosphere_mbar: float = ATMOSPHERE_MBAR,
) -> Vacuum:
    """The vacuum from carbon dioxide taken up, from cooling, or from both, in a closed vessel.

    P₂ = p(T₂) + (1 − a y) (P₁ − p(T₁)) T₂ / T₁, at constant volume; vacuum = air − P₂.

    ``temperature_c`` and ``final_temperature_c`` 0 to 100 °C; ``pressure_abs_mbar`` mbar
    absolute, at most 5000; ``co2_fraction`` y, 0 to 1 by volume of the dry gas;
    ``taken_up_fraction`` a, 0 to 1, the share of it that caustic takes up; ``saturated``: the
    gas is wet, as over any solution, before and after; ``rating_mbar`` mbar of vacuum that the
    vessel stands (0 for none, ``None`` if not known); ``atmosphere_mbar`` 500 to 1100 mbar.
    ``vacuum_mbar`` is negative where pressure is left. Raises :class:`OutOfRange`.

    >>> round(closed_vessel_vacuum(temperature_c=20, final_temperature_c=20,
    ...                            co2_fraction=0.6).vacuum_mbar, 1)
    593.9
    >>> round(closed_vessel_vacuum(temperature_c=80, final_temperature_c=20).vacuum_mbar)
    542
    """
    require("temperature", temperature_c, unit="°C", minimum=0, maximum=100)
    require("final temperature", final_temperature_c, unit="°C", minimum=0, maximum=100)
    require("pressure", pressure_abs_mbar, unit="mbar absolute", minimum=0, maximum=5000,
            above=True)  # fmt: skip
    require("share of carbon dioxide", co2_fraction, minimum=0, maximum=1)
    require("share taken up", taken_up_fraction, minimum=0, maximum=1)
    require("atmospheric pressure", atmosphere_mbar, unit="mbar", minimum=500, maximum=1100)
    if rating_mbar is not None:
        require("vacuum rating", rating_mbar, unit="mbar", minimum=0, maximum=1100)
    before_mbar = after_mbar = 0.0
    if saturated:
        before_mbar = saturation_pressure_kpa(temperature_c=float(temperature_c)) * 10
        after_mbar = saturation_pressure_kpa(temperature_c=float(final_temperature_c)) * 10
    dry_mbar = pressure_abs_mbar - before_mbar
    if dry_mbar < 0:
        raise OutOfRange(
            f"At {shown(temperature_c)} °C water's vapour alone has {before_mbar:.0f} mbar, more "
            f"than the {pressure_abs_mbar:.0f} mbar entered. Check both, or choose a vessel filled "
            "with steam.",
            quantity="pressure", value=pressure_abs_mbar, minimum=before_mbar, unit="mbar absolute",
        )  # fmt: skip
    cold_k, hot_k = final_temperature_c + ZERO_C_K, temperature_c + ZERO_C_K
    left_mbar = (1 - taken_up_fraction * co2_fraction) * dry_mbar
    cooled_mbar = left_mbar * cold_k / hot_k
    working = (
        WorkingLine("water vapour before", "saturation pressure", f"{shown(temperature_c)} °C",
                    before_mbar, "mbar"),
        WorkingLine("dry gas before", "P₁ − vapour",
                    f"{shown(pressure_abs_mbar)} − {shown(before_mbar)}", dry_mbar, "mbar"),
        WorkingLine("dry gas left", "(1 − taken up × CO2) × dry gas",
                    f"(1 − {shown(taken_up_fraction)} × {shown(co2_fraction)}) × {shown(dry_mbar)}",
                    left_mbar, "mbar"),
        WorkingLine("dry gas, cooled", "× T₂ / T₁, in kelvin",
                    f"{shown(left_mbar)} × {shown(cold_k)} / {shown(hot_k)}", cooled_mbar, "mbar"),
    )  # fmt: skip
    return _vacuum(
        pressure_abs_mbar, before_mbar, after_mbar, cooled_mbar, rating_mbar, atmosphere_mbar,
        (*working, WorkingLine("water vapour after", "saturation pressure",
                               f"{shown(final_temperature_c)} °C", after_mbar, "mbar")),
    )  # fmt: skip


def steam_filled_vacuum(
    *,
    final_temperature_c: float,
    rating_mbar: float | None = None,
    atmosphere_mbar: float = ATMOSPHERE_MBAR,
) -> Vacuum:
    """The vacuum in a vessel full of steam at atmospheric pressure, closed and cooled.

    What is left is the vapour pressure of water at ``final_temperature_c``, 0 to 100 °C;
    ``rating_mbar`` mbar of vacuum that the vessel stands (``None`` if not known);
    ``atmosphere_mbar`` 500 to 1100 mbar. Raises :class:`OutOfRange`.

    >>> round(steam_filled_vacuum(final_temperature_c=20).vacuum_mbar, 1)
    989.9
    """
    require("final temperature", final_temperature_c, unit="°C", minimum=0, maximum=100)
    require("atmospheric pressure", atmosphere_mbar, unit="mbar", minimum=500, maximum=1100)
    if rating_mbar is not None:
        require("vacuum rating", rating_mbar, unit="mbar", minimum=0, maximum=1100)
    after_mbar = saturation_pressure_kpa(temperature_c=float(final_temperature_c)) * 10
    line = WorkingLine("water vapour after", "saturation pressure",
                       f"{shown(final_temperature_c)} °C", after_mbar, "mbar")  # fmt: skip
    return _vacuum(
        atmosphere_mbar, atmosphere_mbar, after_mbar, 0.0, rating_mbar, atmosphere_mbar, (line,)
    )


def _vacuum(
    pressure_mbar: float,
    vapour_before_mbar: float,
    vapour_after_mbar: float,
    dry_after_mbar: float,
    rating_mbar: float | None,
    atmosphere_mbar: float,
    working: tuple[WorkingLine, ...],
) -> Vacuum:
    after_mbar = dry_after_mbar + vapour_after_mbar
    vacuum_mbar = atmosphere_mbar - after_mbar
    verdict, sentence = _judge(vacuum_mbar, rating_mbar)
    return Vacuum(
        pressure_before_mbar=pressure_mbar,
        vapour_before_mbar=vapour_before_mbar,
        vapour_after_mbar=vapour_after_mbar,
        dry_gas_after_mbar=dry_after_mbar,
        pressure_after_mbar=after_mbar,
        vacuum_mbar=vacuum_mbar,
        rating_mbar=rating_mbar,
        verdict=verdict,
        sentence=sentence,
        air_to_let_in_hl_per_hl=max(vacuum_mbar, 0.0) / atmosphere_mbar,
        working=(
            *working,
            WorkingLine("pressure after", "dry gas + vapour",
                        f"{shown(dry_after_mbar)} + {shown(vapour_after_mbar)}", after_mbar,
                        "mbar absolute"),
            WorkingLine("vacuum", "atmospheric pressure − pressure after",
                        f"{shown(atmosphere_mbar)} − {shown(after_mbar)}", vacuum_mbar, "mbar"),
        ),
    )  # fmt: skip
