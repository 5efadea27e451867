"""Conductivity: strength from it, compensation, the end of a rinse, a site's own calibration."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Table, Working, cautions_of, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.measures import TEMPERATURE
from brewhygiene.quantities.parsing import show_number
from brewhygiene.regimes.models import ActiveSubstance
from brewhygiene.science.solutions.calibration import Calibration, calibrate, calibrated_strength
from brewhygiene.science.solutions.conductivity import (
    CARBONATE_WARNING,
    CONDUCTIVE_SOLUTES,
    compensated_by_division_ms_cm,
    compensated_by_product_ms_cm,
    read_conductivity,
)
from brewhygiene.science.tank.rinse_end import WATER_ALPHA_PER_K, rinse_end
from brewhygiene.science.working import WorkingLine, shown

MS_CM = "mS/cm"
IN_MS_CM = "600 µS/cm is 0.6 mS/cm."


class FromConductivity(Calculator):
    """Strength from a published conductivity."""

    slug = "conductivity"
    title = "Strength from conductivity"
    about = "From published conductivities of the plain chemical"
    fieldsets = (("Reading", ("substance", "conductivity", "temperature")),)
    method = (
        (
            "Molal conductivities of McCleskey (J. Chem. Eng. Data 56 (2011) 317) for NaOH and of "
            "McCleskey and others (Geochim. Cosmochim. Acta 77 (2012) 369) for KOH and HNO3."
        ),
        "± is the difference from the table of the CRC Handbook at 20 °C.",
    )
    valid_for = (
        "The plain chemical in pure water, 5 to 90 °C.",
        "NaOH to 5 %, KOH to 3.5 %, HNO3 to 4 % w/w.",
    )
    refusal_fields = (("conductivity", ("conductivity",)), ("temperature", ("temperature",)))

    substance = fields.choice(
        "Substance",
        [choice for choice in ActiveSubstance.choices if choice[0] in CONDUCTIVE_SOLUTES],
        initial="NaOH",
        wide=True,
    )
    conductivity = fields.number(
        "Conductivity", unit=MS_CM, high=2000, initial=93.1,
        hint="As measured, with temperature compensation off.",
    )  # fmt: skip
    temperature = fields.temperature("Temperature of the solution")

    def calculate(self, given: dict[str, Any]) -> Answer:
        reading = read_conductivity(
            solute=given["substance"],
            conductivity_ms_cm=given["conductivity"],
            temperature_c=given["temperature"],
        )
        return Answer(
            figures=(
                figure("strength", reading.strength_ww, "% w/w", uncertainty=reading.error_ww),
            ),
            working=(Working("Calculation", reading.working),),
            warnings=(reading.warning,),
            cautions=cautions_of(given["substance"]),
        )


class Compensation(Calculator):
    """A conductivity brought to a reference temperature, by both formulas in circulation."""

    slug = "compensation"
    title = "Temperature compensation"
    about = "Conductivity at a reference temperature"
    fieldsets = (("Reading", ("conductivity", "temperature", "alpha", "reference")),)
    method = ("The linear form of ISO 7888 and IEC 60746-3 (read in secondary copies).",)
    valid_for = (
        (
            "A coefficient is valid near one strength, for one reference temperature, over some "
            "tens of degrees. From 25 to 60 °C, 2 % NaOH has 1.75 % and 2 % HNO3 1.3 % per K."
        ),
    )
    refusal_fields = (
        ("reference", ("reference",)),
        ("α", ("alpha",)),
        ("conductivity", ("conductivity",)),
        ("temperature", ("temperature",)),
    )

    conductivity = fields.number("Measured conductivity", unit=MS_CM, high=2000, initial=150)
    temperature = fields.temperature("Temperature", initial=60.0)
    alpha = fields.number("Coefficient α", unit="% per K", high=10, initial=1.8)
    reference = fields.temperature("Reference temperature", initial=25.0)

    def calculate(self, given: dict[str, Any]) -> Answer:
        alpha = given["alpha"] / 100
        reading = {
            "conductivity_ms_cm": given["conductivity"],
            "temperature_c": given["temperature"],
            "alpha_per_k": alpha,
            "reference_c": given["reference"],
        }
        divided = compensated_by_division_ms_cm(**reading)
        bracket = f"{shown(alpha)} × ({shown(given['temperature'])} − {shown(given['reference'])})"
        kappa = shown(given["conductivity"])
        lines = [
            WorkingLine("dividing form", "κ ÷ (1 + α (t − t0))", f"{kappa} ÷ (1 + {bracket})",
                        divided, MS_CM),
        ]  # fmt: skip
        at = self.site.words(given["reference"], TEMPERATURE)
        figures = [figure(f"at {at}, dividing form", divided, MS_CM)]
        warnings = ["Conductivity meters use one form or the other. See the meter's manual."]
        if 1 - alpha * (given["temperature"] - given["reference"]) > 0:
            product = compensated_by_product_ms_cm(**reading)
            lines.append(WorkingLine("multiplying form", "κ (1 − α (t − t0))",
                                     f"{kappa} × (1 − {bracket})", product, MS_CM))  # fmt: skip
            figures.append(figure(f"at {at}, multiplying form", product, MS_CM))
        else:
            warnings.append(
                "The multiplying form has no value so far from its reference temperature."
            )
        return Answer(
            figures=tuple(figures),
            working=(Working("Calculation", tuple(lines)),),
            warnings=tuple(warnings),
        )


class RinseEnd(Calculator):
    """Whether a rinse is done, by its conductivity."""

    slug = "rinse-end"
    title = "End of a rinse"
    about = "Rinse and fresh water compared by conductivity"
    fieldsets = (
        ("Rinse water", ("rinse", "rinse_temperature")),
        ("Fresh water", ("water", "water_temperature")),
        ("Limit", ("limit", "alpha")),
        ("Cleaning solution", ("solution", "solution_temperature")),
    )
    method = ("Both are compensated to 25 °C and compared: common practice, no source.",)
    valid_for = (
        "The compensation is good to about 0.2 % per K. Read both at similar temperatures.",
    )
    refusal_fields = (
        ("limit", ("limit",)),
        ("enter the cleaning solution's temperature", ("solution_temperature",)),
        ("cleaning solution", ("solution",)),
        ("conductivity", ("rinse", "water", "solution")),
        ("temperature", ("rinse_temperature", "water_temperature", "solution_temperature")),
        ("α", ("alpha",)),
    )

    rinse = fields.number("Conductivity of the rinse water", unit=MS_CM, high=2000, initial=0.62,
                          hint=IN_MS_CM)  # fmt: skip
    rinse_temperature = fields.temperature("Temperature of the rinse water", initial=25.0)
    water = fields.number("Conductivity of the fresh water", unit=MS_CM, high=2000, initial=0.6)
    water_temperature = fields.temperature("Temperature of the fresh water", initial=25.0)
    limit = fields.number("Maximum above fresh water", unit=MS_CM, high=100, initial=0.05)
    alpha = fields.number("Coefficient α", unit="% per K", high=10,
                          initial=WATER_ALPHA_PER_K * 100)  # fmt: skip
    solution = fields.number(
        "Conductivity of the cleaning solution",
        unit=MS_CM,
        high=2000,
        required=False,
        hint="Optional. Gives the share that is left.",
    )
    solution_temperature = fields.temperature(
        "Temperature of the cleaning solution", initial=None, required=False
    )

    def calculate(self, given: dict[str, Any]) -> Answer:
        end = rinse_end(
            rinse_ms_cm=given["rinse"],
            rinse_temperature_c=given["rinse_temperature"],
            water_ms_cm=given["water"],
            water_temperature_c=given["water_temperature"],
            limit_ms_cm=given["limit"],
            solution_ms_cm=given["solution"],
            solution_temperature_c=given["solution_temperature"],
            alpha_per_k=given["alpha"] / 100,
        )
        figures = [
            figure("above fresh water, at 25 °C", end.difference_ms_cm, MS_CM),
            figure("rinse water, at 25 °C", end.rinse_25_ms_cm, MS_CM),
            figure("fresh water, at 25 °C", end.water_25_ms_cm, MS_CM),
        ]
        if end.left_percent is not None:
            figures.append(figure("cleaning solution left", end.left_percent, "%",
                                  significant=3))  # fmt: skip
        return Answer(
            figures=tuple(figures),
            verdict="yes" if end.reached else "no",
            verdict_words="rinse complete" if end.reached else "continue rinsing",
            working=(Working("Calculation", end.working),),
            warnings=(end.warning,),
        )


def _pairs_field() -> Any:
    return fields.LinesField(
        columns=("strength", "conductivity in mS/cm", "temperature"),
        temperature_column=2,
        label="Pairs",
        initial="0.5; 24.8; 20\n1; 48.6; 20\n2; 93.1; 20\n3; 134; 20",
        help_text="One pair a line: titrated strength, measured conductivity in mS/cm, "
        "temperature. Separate them by spaces or semicolons, or copy them from a spreadsheet.",
        error_messages={"required": "Enter at least four pairs."},
    )


class SiteCalibration(Calculator):
    """A calibration line through a site's own pairs; nothing is stored."""

    slug = "site-calibration"
    title = "Calibration of conductivity"
    about = "Strength from your own meter, water and agent"
    fieldsets = (
        ("Pairs", ("pairs", "unit")),
        ("Reading", ("conductivity", "temperature")),
    )
    method = (
        (
            "Least squares on strength = a + b κ ÷ (1 + α (t − t0)), t0 the lowest temperature "
            "(Draper and Smith, Applied Regression Analysis, 3rd ed., from memory)."
        ),
        "± is the expanded uncertainty of one more titration, k = 2.",
    )
    valid_for = (
        (
            "From the lowest to the highest pair only. The fit is not stored. Keep the address of "
            "this page."
        ),
    )
    refusal_fields = (
        ("conductivity brought", ("conductivity",)),
        ("temperature of the reading", ("temperature",)),
        ("", ("pairs",)),
    )

    pairs = _pairs_field()
    unit = fields.choice(
        "Unit of strength",
        [(unit, unit) for unit in ("% w/w", "% w/v", "% v/v", "g/L", "mg/L")],
        initial="% w/w",
    )
    conductivity = fields.number("Conductivity", unit=MS_CM, high=2000, required=False)
    temperature = fields.temperature("Temperature", initial=None, required=False)

    def clean(self) -> dict[str, Any]:
        self.need_both(
            "conductivity", "temperature", "Enter both conductivity and temperature, or neither."
        )
        return self.cleaned_data

    def calculate(self, given: dict[str, Any]) -> Answer:
        strengths, conductivities, temperatures = zip(*given["pairs"], strict=True)
        fit = calibrate(
            strengths=strengths,
            conductivities_ms_cm=conductivities,
            temperatures_c=temperatures,
            unit=given["unit"],
        )
        figures = [figure("residual standard deviation", fit.residual_sd, fit.unit,
                          significant=2, note="spread of the pairs about the line")]  # fmt: skip
        working = [Working("Fit", _fit_lines(fit))]
        if given["conductivity"] is not None:
            found = calibrated_strength(
                calibration=fit,
                conductivity_ms_cm=given["conductivity"],
                temperature_c=given["temperature"],
            )
            figures.insert(
                0, figure("strength", found.strength, fit.unit, uncertainty=found.expanded)
            )
            working.append(Working("Reading", found.working))
        at = self.site.words(fit.reference_c, TEMPERATURE)
        figures += [
            Figure("valid conductivity",
                   f"{show_number(fit.low_ms_cm)} to {show_number(fit.high_ms_cm)}", MS_CM,
                   note=f"compensated to {at}"),
            Figure("valid temperature", self._range(fit), self.site.label(TEMPERATURE)),
            Figure("pairs", str(fit.pairs), note=f"{fit.degrees_of_freedom} degrees of freedom"),
        ]  # fmt: skip
        return Answer(
            figures=tuple(figures),
            working=tuple(working),
            tables=(self._table(given["pairs"], fit),),
            warnings=(CARBONATE_WARNING,),
        )

    def _range(self, fit: Calibration) -> str:
        low, high = (self.site.shown(each, TEMPERATURE)[0] for each in (fit.low_c, fit.high_c))
        return f"{low} to {high}"

    def _table(self, pairs: list[tuple[float, ...]], fit: Calibration) -> Table:
        rows = []
        for strength, conductivity, temperature_c in pairs:
            fitted = calibrated_strength(
                calibration=fit, conductivity_ms_cm=conductivity, temperature_c=temperature_c
            ).strength
            rows.append(
                (
                    show_number(conductivity),
                    self.site.shown(temperature_c, TEMPERATURE)[0],
                    show_number(strength),
                    show_number(fitted),
                    show_number(strength - fitted, significant=2),
                )
            )
        head = (MS_CM, self.site.label(TEMPERATURE), f"Titrated, {fit.unit}", "Fitted", "Residual")
        return Table("Pairs", head, tuple(rows))


def _fit_lines(fit: Calibration) -> tuple[WorkingLine, ...]:
    pairs = f"least squares through {fit.pairs} pairs"
    return (
        WorkingLine("temperature coefficient", "α",
                    pairs if fit.alpha_per_k else "0: all pairs at one temperature",
                    fit.alpha_per_k, "per K"),
        WorkingLine("slope", "b", pairs, fit.slope, f"{fit.unit} per mS/cm"),
        WorkingLine("intercept", "a", pairs, fit.intercept, fit.unit),
        WorkingLine("residual standard deviation", "√(Σ residual² ÷ degrees of freedom)",
                    f"{fit.degrees_of_freedom} degrees of freedom", fit.residual_sd, fit.unit),
    )  # fmt: skip
