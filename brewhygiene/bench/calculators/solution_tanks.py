"""A tank that contains a solution: topped up, corrected, or diluted by returning rinse water."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Working, cautions_of, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.calculators.solutions import (
    BY_MASS,
    CONCENTRATE,
    DENSITIES,
    DILUTE,
    RANGES,
    SUBSTANCES,
    WithConcentrate,
)
from brewhygiene.bench.measures import SOLUTION, TEMPERATURE
from brewhygiene.quantities.parsing import show_number
from brewhygiene.science.solutions.batch import Batch
from brewhygiene.science.solutions.topup import correct_strength, mix, top_up
from brewhygiene.science.working import WorkingLine

PRESENT = (
    "Solution in the tank", ("present", "present_strength", "temperature", "capacity")
)  # fmt: skip


class SolutionTank(WithConcentrate):
    """A tank that contains a solution already."""

    present = fields.solution("Volume in the tank", initial=1000)
    present_strength = fields.number("Strength in the tank", high=1e6, initial=1.4,
                                     hint="As titrated.")  # fmt: skip
    capacity = fields.solution("Capacity of the tank", required=False,
                               hint="Optional. If blank, not checked.")  # fmt: skip

    def tank(self, given: dict[str, Any]) -> tuple[dict[str, Any], tuple[WorkingLine, ...]]:
        """What is there and what is wanted, and how the strengths became % w/w."""
        present_ww = self.by_weight(given, "present_strength", "basis")
        target_ww = self.by_weight(given, "target", "basis")
        lines = self.lines_by_weight(
            given,
            ("strength in the tank", "present_strength", "basis", present_ww),
            ("target strength", "target", "basis", target_ww),
        )
        return {
            "concentrate": self.concentrate(given),
            "present_l": given["present"],
            "present_ww": present_ww,
            "target_ww": target_ww,
            "temperature_c": given["temperature"],
            "water_temperature_c": given["water_temperature"],
            "capacity_l": given["capacity"],
        }, lines


class TopUp(SolutionTank):
    """A recovered tank brought to strength and volume."""

    slug = "top-up"
    title = "Top-up of a recovered tank"
    about = "Concentrate and water to a strength and a volume"
    fieldsets = (
        CONCENTRATE,
        PRESENT,
        ("Target", ("target", "basis", "volume", "water_temperature")),
    )

    present = fields.solution("Volume in the tank", initial=800)
    volume = fields.solution("Target volume", initial=1000)

    def calculate(self, given: dict[str, Any]) -> Answer:
        tank, lines = self.tank(given)
        batch = top_up(volume_l=given["volume"], **tank)
        return self.batch_answer(
            batch,
            figures=(
                self.amount("concentrate", batch.concentrate_l, batch.concentrate_kg),
                self.amount("water", batch.water_l, batch.water_kg),
            ),
            first=lines,
        )


class CorrectStrength(SolutionTank):
    """What to add to a tank now, whatever its volume becomes."""

    slug = "correct-strength"
    title = "Correction of a strength"
    about = "Concentrate or water to add to a tank"
    fieldsets = (
        CONCENTRATE,
        PRESENT,
        ("Target", ("target", "basis", "water_temperature")),
    )

    def calculate(self, given: dict[str, Any]) -> Answer:
        tank, lines = self.tank(given)
        batch = correct_strength(**tank)
        added, sentence = self._added(batch)
        return self.batch_answer(batch, figures=(added,), first=lines, sentences=(sentence,))

    def _added(self, batch: Batch) -> tuple[Figure, str]:
        if batch.concentrate_kg > 0:
            added = self.amount("concentrate to add", batch.concentrate_l, batch.concentrate_kg)
            return added, "Too weak. Add concentrate, stir, and titrate again."
        if batch.water_kg > 0:
            added = self.amount("water to add", batch.water_l, batch.water_kg)
            return added, "Too strong. Add water, stir, and titrate again."
        return Figure("to add", "nothing"), "The solution has the target strength."


class Mix(Calculator):
    """Two solutions run together."""

    slug = "mix"
    title = "Mixture of two solutions"
    about = "Strength after rinse water returns to a tank"
    fieldsets = (
        ("Solution in the tank", ("substance", "first", "first_ww", "first_temperature")),
        ("Solution added", ("second", "second_ww", "second_temperature")),
    )
    method = (BY_MASS, DENSITIES)
    valid_for = (
        RANGES, DILUTE,
        "The temperature is the mean by mass, good for solutions of a few per cent.",
    )  # fmt: skip
    refusal_fields = (
        ("first volume", ("first",)),
        ("second volume", ("second",)),
        ("strength", ("first_ww", "second_ww")),
        ("temperature", ("first_temperature", "second_temperature")),
    )

    substance = fields.choice("Substance", SUBSTANCES, initial="NaOH", wide=True)
    first = fields.solution("Volume in the tank", initial=1000)
    first_ww = fields.number("Strength in the tank", unit="% w/w", high=100, initial=2)
    first_temperature = fields.temperature("Temperature in the tank")
    second = fields.solution("Volume added", initial=50)
    second_ww = fields.number("Strength added", unit="% w/w", high=100, initial=0,
                              hint="0 for water.")  # fmt: skip
    second_temperature = fields.temperature("Temperature added")

    def calculate(self, given: dict[str, Any]) -> Answer:
        mixture = mix(
            solute=given["substance"],
            first_l=given["first"],
            first_ww=given["first_ww"],
            second_l=given["second"],
            second_ww=given["second_ww"],
            first_temperature_c=given["first_temperature"],
            second_temperature_c=given["second_temperature"],
        )
        return Answer(
            figures=(
                figure("strength", mixture.strength_ww, "% w/w"),
                Figure("volume", *self.site.shown(mixture.volume_l, SOLUTION),
                       note=f"{show_number(mixture.mass_kg)} kg"),
                figure("active substance", mixture.active_kg, "kg"),
                Figure("temperature", *self.site.shown(mixture.temperature_c, TEMPERATURE)),
            ),
            working=(Working("Calculation", mixture.working),),
            cautions=cautions_of(given["substance"]),
        )  # fmt: skip
