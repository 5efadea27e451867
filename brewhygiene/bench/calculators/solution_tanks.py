"""A tank that holds a solution: topped up, set right, or thinned by what runs back."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Sum, cautions_of, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.calculators.solutions import (
    BASES,
    BY_MASS,
    CONCENTRATE,
    DENSITIES,
    DILUTE,
    RANGES,
    SUBSTANCES,
    WithConcentrate,
    agent_field,
    concentrate_field,
    density_field,
    water_temperature_field,
)
from brewhygiene.bench.measures import SOLUTION, TEMPERATURE
from brewhygiene.quantities.parsing import show_number
from brewhygiene.science.solutions.batch import Batch
from brewhygiene.science.solutions.topup import mix, set_right, top_up
from brewhygiene.science.working import WorkingLine


class _Tank(WithConcentrate):
    """A tank that holds a solution already."""

    def strengths(self, given: dict[str, Any]) -> tuple[float, float, tuple[WorkingLine, ...]]:
        """What is there and what is wanted in % w/w, and how they became so."""
        present_ww = self.by_weight(given, "present_strength", "basis")
        target_ww = self.by_weight(given, "target", "basis")
        lines = self.lines_by_weight(
            given,
            ("strength in the tank", "present_strength", "basis", present_ww),
            ("strength wanted", "target", "basis", target_ww),
        )
        return present_ww, target_ww, lines


def _capacity_field() -> Any:
    return fields.solution(
        "The tank holds", required=False, hint="Empty: not asked whether it fits."
    )


class TopUp(_Tank):
    """A recovered tank brought to strength and volume."""

    slug = "top-up"
    title = "Top up a recovered tank"
    question = "What brings the recovered tank back to strength and to volume?"
    parts = (
        CONCENTRATE,
        ("In the tank", ("present", "present_strength", "temperature", "capacity")),
        ("Wanted", ("target", "basis", "volume")),
        ("Water", ("water_temperature",)),
    )

    agent = agent_field()
    substance = fields.choice("Substance", SUBSTANCES, initial="NaOH", wide=True)
    concentrate_ww = concentrate_field()
    density_kg_l = density_field()
    present = fields.solution("Volume there", initial=800)
    present_strength = fields.number("Strength there, as titrated", high=1e6, initial=1.4)
    temperature = fields.temperature("Temperature of both volumes")
    capacity = _capacity_field()
    target = fields.number("Strength wanted", high=1e6, initial=2)
    basis = fields.choice("Both strengths in", BASES, initial="ww")
    volume = fields.solution("Volume wanted", initial=1000)
    water_temperature = water_temperature_field()

    def work(self, given: dict[str, Any]) -> Answer:
        present_ww, target_ww, lines = self.strengths(given)
        batch = top_up(
            concentrate=self.concentrate(given),
            present_l=given["present"],
            present_ww=present_ww,
            target_ww=target_ww,
            volume_l=given["volume"],
            temperature_c=given["temperature"],
            water_temperature_c=given["water_temperature"],
            capacity_l=given["capacity"],
        )
        return self.batch_answer(
            batch,
            figures=(
                self.amount("concentrate", batch.concentrate_l, batch.concentrate_kg),
                self.amount("water", batch.water_l, batch.water_kg),
            ),
            first=lines,
        )


class SetRight(_Tank):
    """What to add to a tank now, whatever its volume becomes."""

    slug = "set-right"
    title = "What to add now"
    question = "The strength is off: what do I add?"
    parts = (
        CONCENTRATE,
        ("In the tank", ("present", "present_strength", "temperature", "capacity")),
        ("Wanted", ("target", "basis", "water_temperature")),
    )

    agent = agent_field()
    substance = fields.choice("Substance", SUBSTANCES, initial="NaOH", wide=True)
    concentrate_ww = concentrate_field()
    density_kg_l = density_field()
    present = fields.solution("Volume there", initial=1000)
    present_strength = fields.number("Strength there, as titrated", high=1e6, initial=1.4)
    temperature = fields.temperature("Temperature of the solution")
    capacity = _capacity_field()
    target = fields.number("Strength wanted", high=1e6, initial=2)
    basis = fields.choice("Both strengths in", BASES, initial="ww")
    water_temperature = water_temperature_field()

    def work(self, given: dict[str, Any]) -> Answer:
        present_ww, target_ww, lines = self.strengths(given)
        batch = set_right(
            concentrate=self.concentrate(given),
            present_l=given["present"],
            present_ww=present_ww,
            target_ww=target_ww,
            temperature_c=given["temperature"],
            water_temperature_c=given["water_temperature"],
            capacity_l=given["capacity"],
        )
        added, sentence = self._added(batch)
        return self.batch_answer(batch, figures=(added,), first=lines, sentences=(sentence,))

    def _added(self, batch: Batch) -> tuple[Figure, str]:
        if batch.concentrate_kg > 0:
            added = self.amount("add concentrate", batch.concentrate_l, batch.concentrate_kg)
            return added, "Too weak: add concentrate, stir, and titrate again."
        if batch.water_kg > 0:
            added = self.amount("add water", batch.water_l, batch.water_kg)
            return added, "Too strong: add water, stir, and titrate again."
        return Figure("add", "nothing"), "It has the strength that is wanted."


class Mix(Calculator):
    """Two solutions run together."""

    slug = "mix"
    title = "Mixing, and rinse water that runs back"
    question = "What strength is left when rinse water returns to the tank?"
    parts = (
        ("In the tank", ("substance", "first", "first_ww", "first_temperature")),
        ("What runs in", ("second", "second_ww", "second_temperature")),
    )
    method = (BY_MASS, DENSITIES)
    holds = (
        RANGES, DILUTE,
        "The temperature is the mean by mass, good for solutions of a few per cent.",
    )  # fmt: skip
    blame = (
        ("first volume", ("first",)),
        ("second volume", ("second",)),
        ("strength", ("first_ww", "second_ww")),
        ("temperature", ("first_temperature", "second_temperature")),
    )

    substance = fields.choice("Substance", SUBSTANCES, initial="NaOH", wide=True)
    first = fields.solution("Volume", initial=1000)
    first_ww = fields.number("Strength", unit="% w/w", high=100, initial=2)
    first_temperature = fields.temperature("Temperature")
    second = fields.solution("Volume that runs in", initial=50)
    second_ww = fields.number("Its strength", unit="% w/w", high=100, initial=0, hint="0 is water.")
    second_temperature = fields.temperature("Its temperature")

    def work(self, given: dict[str, Any]) -> Answer:
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
            working=(Sum("The sum", mixture.working),),
            cautions=cautions_of(given["substance"]),
        )  # fmt: skip
