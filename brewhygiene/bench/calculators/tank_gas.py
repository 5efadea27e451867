"""Gas in a tank: what carbon dioxide does to caustic, and the vacuum that can fold a vessel."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Working, cautions_of, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.measures import TEMPERATURE, VESSEL
from brewhygiene.cellar.models import Vessel
from brewhygiene.regimes.cautions import (
    AIR_PATH,
    CO2_ROOM,
    CONFINED_SPACE,
    HOT,
    HOT_COLD,
    PURGED,
    VACUUM_VALVE,
    VENTED,
)
from brewhygiene.regimes.models import ActiveSubstance
from brewhygiene.science.solutions.density import solution_density_kg_l
from brewhygiene.science.tank.tank_gas import (
    ATMOSPHERE_MBAR,
    CO2_G_MOL,
    IDEAL_GAS,
    R_J_MOL_K,
    CausticLoss,
    caustic_loss,
    co2_in_headspace_kg,
    pressure_abs_mbar,
    purge,
)
from brewhygiene.science.tank.vacuum import (
    STATIC_ONLY,
    Vacuum,
    closed_vessel_vacuum,
    steam_filled_vacuum,
)
from brewhygiene.science.tank.water import ZERO_C_K, saturation_pressure_kpa
from brewhygiene.science.working import WorkingLine, shown

_VERDICT = {"over": ("no", "can collapse"), "unrated": ("explain", "no rating recorded"),
            "within": ("within", "within its rating")}  # fmt: skip


def vessel_field(hint: str) -> Any:
    """One of the brewery's vessels, which fills in the fields below it."""
    return fields.choice("Vessel", [], required=False, hint=hint, wide=True)


def _rating_field() -> Any:
    return fields.number(
        "Vacuum rating", unit="mbar", high=1100, required=False,
        hint="Optional. If blank, the vessel is treated as one without a rating.",
    )  # fmt: skip


def _air_field() -> Any:
    hint = "1013.25 at sea level, about 12 mbar less per 100 m of altitude."
    return fields.number(
        "Atmospheric pressure", unit="mbar", high=1200, initial=ATMOSPHERE_MBAR, hint=hint
    )


def _gauge_field() -> Any:
    return fields.number("Gauge pressure", unit="mbar", high=4000, initial=0,
                         hint="Above atmospheric. 1 bar is 1000 mbar.")  # fmt: skip


class TankGas(Calculator):
    """Carbon dioxide left in a tank that caustic is planned for."""

    slug = "tank-gas"
    title = "CO2 in the tank"
    about = "Caustic used up, vacuum, and air to purge"
    fieldsets = (
        ("Vessel", ("vessel", "volume", "rating")),
        ("Gas", ("temperature", "gauge", "co2", "air")),
        ("Caustic", ("substance", "solution", "strength")),
        ("Purging with air", ("target", "air_flow")),
    )
    method = (
        "Ideal gas, R of CODATA 2018. Vapour pressure of water by IAPWS R7-97(2012).",
        (
            "2 NaOH + CO2 → Na2CO3 + H2O, with IUPAC's atomic weights. Volumes of air by ideal "
            "mixing, ln(y₀ / y)."
        ),
    )
    valid_for = (IDEAL_GAS, "Assumes that the caustic takes up all of the gas in a closed vessel.")
    refusal_fields = (
        ("volume of gas", ("volume",)),
        ("volume", ("volume",)),
        ("share of carbon dioxide", ("co2",)),
        ("flow of air", ("air_flow",)),
        ("atmospheric pressure", ("air",)),
        ("pressure", ("gauge",)),
        ("rating", ("rating",)),
        ("solution", ("solution",)),
        ("strength", ("strength",)),
        ("temperature", ("temperature",)),
    )

    vessel = vessel_field("Optional. Fills in its volume and its vacuum rating.")
    volume = fields.vessel_volume("Volume of gas", initial=30.0, hint="The whole empty vessel.")
    rating = _rating_field()
    temperature = fields.temperature("Temperature of the gas", initial=4.0)
    gauge = _gauge_field()
    co2 = fields.number("CO2 in the gas", unit="% by volume", high=100, initial=100,
                        hint="100 if the tank was emptied and not purged.")  # fmt: skip
    air = _air_field()
    substance = fields.choice("Caustic", ActiveSubstance.choices[:2], initial="NaOH", wide=True)
    solution = fields.solution("Volume of solution, at 20 °C", initial=300)
    strength = fields.number("Strength of the caustic", unit="% w/w", high=100, initial=2)
    target = fields.number("Purge target", unit="% CO2", low=0.0001, high=100, initial=1)
    air_flow = fields.number("Air flow", unit="m³/h", high=100_000, required=False,
                             hint="Optional. Gives the time.")  # fmt: skip

    def from_vessel(self, vessel: Vessel) -> dict[str, Any]:
        return {"volume": vessel.volume_hl, "rating": vessel.vacuum_rating_mbar}

    def calculate(self, given: dict[str, Any]) -> Answer:
        before_mbar = pressure_abs_mbar(gauge_mbar=given["gauge"], atmosphere_mbar=given["air"])
        share = given["co2"] / 100
        gas_kg = co2_in_headspace_kg(
            volume_hl=given["volume"],
            temperature_c=given["temperature"],
            pressure_abs_mbar=before_mbar,
            co2_fraction=share,
            saturated=True,
        )
        density = solution_density_kg_l(
            solute=given["substance"], strength_ww=given["strength"], temperature_c=20.0
        )
        loss = caustic_loss(
            co2_kg=gas_kg,
            solution_kg=given["solution"] * density,
            strength_ww=given["strength"],
            caustic=given["substance"],
        )
        vacuum = closed_vessel_vacuum(
            temperature_c=given["temperature"],
            final_temperature_c=given["temperature"],
            pressure_abs_mbar=before_mbar,
            co2_fraction=share,
            rating_mbar=given["rating"],
            atmosphere_mbar=given["air"],
        )
        air = purge(
            volume_hl=given["volume"],
            co2_fraction=share,
            target_fraction=given["target"] / 100,
            air_flow_m3_h=given["air_flow"],
        )
        figures = [
            vacuum_figure(vacuum),
            figure("CO2 in the tank", gas_kg, "kg"),
            figure(f"{loss.caustic} used up", loss.caustic_consumed_kg, "kg",
                   note=f"of {shown(loss.caustic_before_kg, significant=4)} kg"),
            figure("strength left", loss.strength_left_ww, "% w/w"),
            figure("air to purge", air.volumes, "volumes of the vessel", significant=3,
                   note=self.site.words(air.air_hl, VESSEL)),
        ]  # fmt: skip
        if air.minutes is not None:
            figures.append(figure("time to purge", air.minutes, "min", significant=3))
        code, words = verdict_of(vacuum)
        return Answer(
            figures=tuple(figures),
            verdict=code,
            verdict_words=words,
            sentences=(vacuum.sentence, self.site.with_own_units(_spent(loss))),
            working=(
                Working("Gas", _gas_lines(given, before_mbar, gas_kg)),
                Working("Caustic", loss.working),
                Working("Vacuum", vacuum.working),
                Working("Purge", air.working),
            ),
            warnings=(
                STATIC_ONLY,
                ("Cold CO2 lies at the bottom. Air blown in at the top may take much more. "
                "Measure the CO2."),
            ),
            cautions=(VENTED, PURGED, AIR_PATH, VACUUM_VALVE, *cautions_of(given["substance"]),
                      CO2_ROOM, CONFINED_SPACE),
        )  # fmt: skip


def _spent(loss: CausticLoss) -> str:
    if loss.exhausted:
        return (
            "The CO2 turns all of the caustic to carbonate, and would use up "
            f"{shown(loss.caustic_short_kg, significant=3)} kg more."
        )
    return (
        f"The caustic falls from {shown(loss.strength_before_ww, significant=3)} to "
        f"{shown(loss.strength_left_ww, significant=3)} % w/w."
    )


def _gas_lines(given: dict[str, Any], before_mbar: float, gas_kg: float) -> tuple[WorkingLine, ...]:
    kelvin = given["temperature"] + ZERO_C_K
    vapour_mbar = float(saturation_pressure_kpa(temperature_c=given["temperature"])) * 10
    moles = gas_kg * 1000 / CO2_G_MOL
    pascal = (before_mbar - vapour_mbar) * 100
    return (
        WorkingLine("pressure, absolute", "gauge + air",
                    f"{shown(given['gauge'])} + {shown(given['air'], significant=6)}",
                    before_mbar, "mbar"),
        WorkingLine("water vapour", "saturation pressure",
                    f"{shown(given['temperature'])} °C", vapour_mbar, "mbar"),
        WorkingLine("moles of CO2", "y (P − p) V / (R T)",
                    f"{shown(given['co2'] / 100)} × {shown(pascal)} Pa × "
                    f"{shown(given['volume'] / 10)} m³ / ({shown(R_J_MOL_K)} × {shown(kelvin)} K)",
                    moles, "mol"),
        WorkingLine("CO2", "moles × M / 1000",
                    f"{shown(moles)} × {shown(CO2_G_MOL, significant=6)} / 1000", gas_kg, "kg"),
    )  # fmt: skip


def vacuum_figure(vacuum: Vacuum) -> Figure:
    """The vacuum, or the pressure that is left where there is none."""
    if vacuum.vacuum_mbar > 0:
        return figure("maximum vacuum if closed", vacuum.vacuum_mbar, "mbar", significant=3)
    return figure("pressure left above atmospheric", -vacuum.vacuum_mbar, "mbar", significant=3)


def verdict_of(vacuum: Vacuum) -> tuple[str, str]:
    """The flag of a vacuum against the vessel's rating, and its words."""
    if vacuum.vacuum_mbar <= 0:
        return "within", "no vacuum"
    return _VERDICT[vacuum.verdict]


class CoolingVacuum(Calculator):
    """A hot vessel, closed, that cools."""

    slug = "cooling-vacuum"
    title = "Vacuum of a cooling tank"
    about = "Vacuum in a hot tank that cools closed"
    fieldsets = (
        ("Vessel", ("vessel", "rating")),
        ("When closed", ("filled", "temperature", "gauge", "air")),
        ("When cooled", ("final",)),
    )
    method = ("Dalton's law at constant volume. Vapour pressure of water by IAPWS R7-97(2012).",)
    valid_for = ("0 to 100 °C. The gas is wet before and after, as it is over any solution.",)
    refusal_fields = (
        ("final temperature", ("final",)),
        ("atmospheric pressure", ("air",)),
        ("pressure", ("gauge",)),
        ("rating", ("rating",)),
        ("temperature", ("temperature",)),
    )

    vessel = vessel_field("Optional. Fills in its vacuum rating.")
    rating = _rating_field()
    filled = fields.choice(
        "Filled with",
        [("air", "Air and vapour, as after a hot clean"),
         ("steam", "Steam only, as after steaming")],
        initial="air",
        wide=True,
    )  # fmt: skip
    temperature = fields.temperature("Temperature when closed", initial=80.0,
                                     hint="Not used for steam.")  # fmt: skip
    gauge = _gauge_field()
    air = _air_field()
    final = fields.temperature("Temperature when cooled", initial=20.0)

    def from_vessel(self, vessel: Vessel) -> dict[str, Any]:
        return {"rating": vessel.vacuum_rating_mbar}

    def calculate(self, given: dict[str, Any]) -> Answer:
        if given["filled"] == "steam":
            vacuum = steam_filled_vacuum(
                final_temperature_c=given["final"],
                rating_mbar=given["rating"],
                atmosphere_mbar=given["air"],
            )
        else:
            vacuum = closed_vessel_vacuum(
                temperature_c=given["temperature"],
                final_temperature_c=given["final"],
                pressure_abs_mbar=pressure_abs_mbar(
                    gauge_mbar=given["gauge"], atmosphere_mbar=given["air"]
                ),
                rating_mbar=given["rating"],
                atmosphere_mbar=given["air"],
            )
        code, words = verdict_of(vacuum)
        return Answer(
            figures=(
                vacuum_figure(vacuum),
                figure("pressure left", vacuum.pressure_after_mbar, "mbar absolute"),
                figure("air needed", vacuum.air_to_let_in_hl_per_hl * 100,
                       "% of the vessel's volume", significant=3),
                Figure("temperature when cooled", *self.site.shown(given["final"], TEMPERATURE)),
            ),
            verdict=code,
            verdict_words=words,
            sentences=(vacuum.sentence,),
            working=(Working("Calculation", vacuum.working),),
            warnings=(STATIC_ONLY,),
            cautions=(VENTED, AIR_PATH, VACUUM_VALVE, HOT_COLD, HOT),
        )  # fmt: skip
