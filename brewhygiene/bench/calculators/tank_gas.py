"""Gas in a tank: what carbon dioxide does to caustic, and the vacuum that can fold a vessel."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Sum, cautions_of, figure
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

_VERDICT = {"over": ("no", "can collapse"), "unrated": ("explain", "no rating known"),
            "within": ("within", "within its rating")}  # fmt: skip
VESSEL_HINT = "Fills in what is on record of it."


def vessel_field(hint: str = VESSEL_HINT) -> Any:
    """One of the brewery's vessels, to be written out into the fields below it."""
    return fields.choice("Vessel", [], required=False, hint=hint, wide=True)


def _rating_field() -> Any:
    return fields.number(
        "Vacuum that the vessel stands", unit="mbar", high=1100, required=False,
        hint="0: none. Empty: not known, and treated as none.",
    )  # fmt: skip


def _air_field() -> Any:
    hint = "1013.25 at sea level, about 12 mbar less each 100 m up."
    return fields.number(
        "Pressure of the air", unit="mbar", high=1200, initial=ATMOSPHERE_MBAR, hint=hint
    )


def _gauge_field() -> Any:
    return fields.number("Pressure on the gauge", unit="mbar", high=4000, initial=0,
                         hint="Above the air's. 1 bar is 1000 mbar.")  # fmt: skip


class TankGas(Calculator):
    """Carbon dioxide left in a tank that caustic is planned for."""

    slug = "tank-gas"
    title = "CO2 left in the tank"
    question = "What will the CO2 in the tank do to the caustic, and to the tank?"
    parts = (
        ("The vessel", ("vessel", "volume", "rating")),
        ("The gas in it", ("temperature", "gauge", "co2", "air")),
        ("The caustic", ("substance", "solution", "strength")),
        ("Purging with air", ("target", "air_flow")),
    )
    method = (
        "Ideal gas, R of CODATA 2018; vapour pressure of water by IAPWS R7-97(2012).",
        (
            "2 NaOH + CO2 → Na2CO3 + H2O, with IUPAC's atomic weights; volumes of air by ideal "
            "mixing, ln(y₀ / y)."
        ),
    )
    holds = (IDEAL_GAS, "All of the gas is taken to be taken up, and the vessel to be closed.")
    blame = (
        ("volume of gas", ("volume",)),
        ("volume", ("volume",)),
        ("share of carbon dioxide", ("co2",)),
        ("flow of air", ("air_flow",)),
        ("air's pressure", ("air",)),
        ("pressure", ("gauge",)),
        ("rating", ("rating",)),
        ("solution", ("solution",)),
        ("strength", ("strength",)),
        ("temperature", ("temperature",)),
    )

    vessel = vessel_field("Fills in its volume, and the vacuum that it stands.")
    volume = fields.vessel_volume("Volume of gas", initial=30.0, hint="The whole empty vessel.")
    rating = _rating_field()
    temperature = fields.temperature("Temperature of the gas", initial=4.0)
    gauge = _gauge_field()
    co2 = fields.number("CO2 in the gas", unit="% by volume", high=100, initial=100,
                        hint="100 in a tank that was only emptied.")  # fmt: skip
    air = _air_field()
    substance = fields.choice("Caustic", ActiveSubstance.choices[:2], initial="NaOH", wide=True)
    solution = fields.solution("Volume of the solution, at 20 °C", initial=300)
    strength = fields.number("Its strength", unit="% w/w", high=100, initial=2)
    target = fields.number("Purge to below", unit="% CO2", low=0.0001, high=100, initial=1)
    air_flow = fields.number("Flow of air", unit="m³/h", high=100_000, required=False)

    def from_vessel(self, vessel: Vessel) -> dict[str, Any]:
        return {"volume": vessel.volume_hl, "rating": vessel.vacuum_rating_mbar}

    def work(self, given: dict[str, Any]) -> Answer:
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
            figure(f"{loss.caustic} that it eats", loss.caustic_consumed_kg, "kg",
                   note=f"of {shown(loss.caustic_before_kg, significant=4)} kg"),
            figure("strength left", loss.strength_left_ww, "% w/w"),
            figure("air to purge with", air.volumes, "volumes of the vessel", significant=3,
                   note=self.site.words(air.air_hl, VESSEL)),
        ]  # fmt: skip
        if air.minutes is not None:
            figures.append(figure("that takes", air.minutes, "min", significant=3))
        code, words = verdict_of(vacuum)
        return Answer(
            figures=tuple(figures),
            verdict=code,
            verdict_words=words,
            sentences=(vacuum.sentence, self.site.beside(_spent(loss))),
            working=(
                Sum("The gas", _gas_lines(given, before_mbar, gas_kg)),
                Sum("The caustic", loss.working),
                Sum("The vacuum", vacuum.working),
                Sum("The purge", air.working),
            ),
            warnings=(
                STATIC_ONLY,
                ("Cold CO2 lies at the bottom: air blown in at the top may take much more. "
                "Measure, do not assume."),
            ),
            cautions=(VENTED, PURGED, AIR_PATH, VACUUM_VALVE, *cautions_of(given["substance"]),
                      CO2_ROOM, CONFINED_SPACE),
        )  # fmt: skip


def _spent(loss: CausticLoss) -> str:
    if loss.exhausted:
        return (
            f"There is more CO2 than the caustic can turn to carbonate: nothing of it is left, and "
            f"{shown(loss.caustic_short_kg, significant=3)} kg more would be used up."
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
        WorkingLine("water vapour in it", "saturation pressure",
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
        return figure("vacuum if it is closed, up to", vacuum.vacuum_mbar, "mbar", significant=3)
    return figure("pressure left above the air's", -vacuum.vacuum_mbar, "mbar", significant=3)


def verdict_of(vacuum: Vacuum) -> tuple[str, str]:
    """The flag of a vacuum against the vessel's rating, and its words."""
    if vacuum.vacuum_mbar <= 0:
        return "within", "no vacuum"
    return _VERDICT[vacuum.verdict]


class CoolingVacuum(Calculator):
    """A hot vessel, closed, that cools."""

    slug = "cooling-vacuum"
    title = "Vacuum from cooling a hot tank"
    question = "What vacuum does a hot tank draw when it cools closed?"
    parts = (
        ("The vessel", ("vessel", "rating")),
        ("Hot", ("filled", "temperature", "gauge", "air")),
        ("Cooled", ("final",)),
    )
    method = ("Dalton's law at constant volume; vapour pressure of water by IAPWS R7-97(2012).",)
    holds = ("0 to 100 °C. The gas is wet before and after, as it is over any solution.",)
    blame = (
        ("final temperature", ("final",)),
        ("air's pressure", ("air",)),
        ("pressure", ("gauge",)),
        ("rating", ("rating",)),
        ("temperature", ("temperature",)),
    )

    vessel = vessel_field("Fills in the vacuum that it stands.")
    rating = _rating_field()
    filled = fields.choice(
        "Filled with",
        [("air", "air and vapour, as after a hot clean"),
         ("steam", "nothing but steam, as after steaming")],
        initial="air",
        wide=True,
    )  # fmt: skip
    temperature = fields.temperature("Temperature when it is closed", initial=80.0,
                                     hint="Not asked for with steam.")  # fmt: skip
    gauge = _gauge_field()
    air = _air_field()
    final = fields.temperature("Temperature it cools to", initial=20.0)

    def from_vessel(self, vessel: Vessel) -> dict[str, Any]:
        return {"rating": vessel.vacuum_rating_mbar}

    def work(self, given: dict[str, Any]) -> Answer:
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
                figure("air to let in", vacuum.air_to_let_in_hl_per_hl * 100,
                       "% of the vessel's volume", significant=3),
                Figure("at", *self.site.shown(given["final"], TEMPERATURE)),
            ),
            verdict=code,
            verdict_words=words,
            sentences=(vacuum.sentence,),
            working=(Sum("The sum", vacuum.working),),
            warnings=(STATIC_ONLY,),
            cautions=(VENTED, AIR_PATH, VACUUM_VALVE, HOT_COLD, HOT),
        )  # fmt: skip
