"""Forms of solutions: made up, read, topped up, dumped; and of a rinse."""

from typing import Any

from django import forms

from brewhygiene.brewery.models import Brewery
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.codes.fields import LotField
from brewhygiene.quantities.fields import NumberField, StoredQuantityField
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.measures import from_site, site_label
from brewhygiene.regimes.models import Agent, Basis, Quantity
from brewhygiene.skids.models import DumpReason, Solution, SolutionCheck
from brewhygiene.skids.solutions.actions import JUDGED_BY, MADE_UP_BY, ReadStraight
from brewhygiene.skids.solutions.titration import TwoEndPoints, takes_two

SEEN = [("no", "No soil seen"), ("yes", "Soil seen"), ("", "Not looked")]
BY_WORDS = {ValueSource.READ: "read", ValueSource.CALCULATED: "calculated from the amounts"}


def _volume(form: forms.Form, name: str, brewery: Brewery) -> None:
    field = form.fields[name]
    assert isinstance(field, StoredQuantityField)
    field.show_in(brewery.solution_unit)


class MakeUpForm(ActionForm):
    """A fresh solution in a tank."""

    agent = forms.ModelChoiceField(
        queryset=Agent.objects.filter(active=True),
        empty_label="Choose",
        error_messages={"required": "Choose an agent.", "invalid_choice": "Choose an agent."},
    )
    agent_lot = LotField(
        scan="agent",
        label="Agent lot",
        max_length=40,
        error_messages={"required": "Enter the lot from the drum."},
    )
    amount_kg = NumberField(
        label="Amount of the agent",
        unit="kg",
        required=False,
        help_text="Optional. As supplied. Needed for what the solution cost.",
    )
    volume_l = StoredQuantityField(
        label="Volume of the solution",
        stored="L",
        low=0.1,
        high=100_000,
        error_messages={"required": "Enter the volume of the solution."},
    )
    strength = NumberField(label="Strength", error_messages={"required": "Enter the strength."})
    basis = forms.ChoiceField(choices=Basis.choices, initial=Basis.WW)
    source = forms.ChoiceField(
        label="How the strength is known",
        choices=[(one.value, BY_WORDS[one]) for one in MADE_UP_BY],
        widget=forms.RadioSelect,
        initial=ValueSource.READ,
    )

    def __init__(
        self, *args: Any, brewery: Brewery, before: Solution | None, tank_l: float, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        _volume(self, "volume_l", brewery)
        self.initial.setdefault("volume_l", tank_l)
        if before is not None:
            self.initial.update(agent=before.agent_id, basis=before.basis)


class CheckForm(ActionForm):
    """What is read of a solution: by titration or straight, its temperature, and soil."""

    first_ml = NumberField(
        label="Titrant used", unit="mL", required=False, pad=True,
        help_text="Optional. If blank, enter the strength below, or none.",
    )  # fmt: skip
    second_ml = NumberField(
        label="Titrant used to methyl orange, from the start",
        unit="mL",
        required=False,
        pad=True,
        help_text="Optional. Shows the carbonate.",
    )
    titrant_eq_l = NumberField(
        label="Titrant strength", unit="eq/L", required=False, help_text="From the bottle."
    )
    sample_ml = NumberField(label="Sample", unit="mL", required=False)
    strength = NumberField(
        label="Strength, read straight",
        required=False,
        help_text="Optional. By test kit or meter, where it was not titrated.",
    )
    basis = forms.ChoiceField(choices=Basis.choices, required=False)
    temperature_c = NumberField(label="Temperature", required=False, help_text="Optional.")
    soiled = forms.ChoiceField(
        label="Soil in the solution", choices=SEEN, required=False, widget=forms.RadioSelect
    )

    def __init__(
        self,
        *args: Any,
        solution: Solution,
        last: SolutionCheck | None,
        brewery: Brewery,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.brewery = brewery
        self.initial.setdefault("basis", solution.basis)
        if takes_two(solution.agent):
            self.fields["first_ml"].label = "Titrant used to phenolphthalein"
        else:
            del self.fields["second_ml"]
        unit = site_label(quantity=Quantity.TEMPERATURE_C, brewery=brewery)
        self.fields["temperature_c"].widget.unit = unit
        if last is not None and last.titration:
            self.initial.setdefault("titrant_eq_l", last.titration["titrant_eq_l"])
            self.initial.setdefault("sample_ml", last.titration["sample_ml"])

    def clean(self) -> dict[str, Any]:
        data = self.cleaned_data
        if data.get("second_ml") is not None and data.get("first_ml") is None:
            self.add_error("first_ml", "Enter the volume to the first end point too.")
        if data.get("first_ml") is not None:
            if data.get("strength") is not None:
                self.add_error("strength", "Enter the titration or a strength, not both.")
            for name, what in (("titrant_eq_l", "strength"), ("sample_ml", "sample")):
                if name in data and data[name] is None:
                    said = "Enter the strength from the titrant's bottle."
                    if what == "sample":
                        said = "Enter the volume of sample titrated."
                    self.add_error(name, said)
        return data

    def values(self) -> dict[str, Any]:
        """What ``check_solution`` takes, in stored units."""
        data = self.cleaned_data
        strength: TwoEndPoints | ReadStraight | None = None
        if data["first_ml"] is not None:
            strength = TwoEndPoints(
                first_ml=data["first_ml"],
                second_ml=data.get("second_ml"),
                titrant_eq_l=data["titrant_eq_l"],
                sample_ml=data["sample_ml"],
            )
        elif data["strength"] is not None:
            strength = ReadStraight(data["strength"], data["basis"])
        return {
            "strength": strength,
            "temperature_c": from_site(
                data["temperature_c"], quantity=Quantity.TEMPERATURE_C, brewery=self.brewery
            ),
            "soiled": {"yes": True, "no": False}.get(data["soiled"]),
        }

    def refuse(self, refusal: Refusal) -> None:
        if refusal.field == "second_ml" and "second_ml" not in self.fields:
            refusal = Refusal(refusal.message, field="first_ml", code=refusal.code)
        super().refuse(refusal)


class TopUpForm(ActionForm):
    """Agent or water added to a solution."""

    amount_kg = NumberField(
        label="Agent added", unit="kg", required=False, pad=True, help_text="As supplied."
    )
    agent_lot = LotField(scan="agent", label="Agent lot", max_length=40, required=False)
    water_l = StoredQuantityField(
        label="Water added", stored="L", low=0, high=100_000, required=False
    )

    def __init__(self, *args: Any, brewery: Brewery, solution: Solution, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _volume(self, "water_l", brewery)
        self.fields["agent_lot"].widget.attrs["data-scan-agent"] = solution.agent_id


class DumpForm(ActionForm):
    """A solution goes to the drain."""

    reason = forms.ChoiceField(
        label="Why it is dumped",
        choices=DumpReason.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose why it is dumped."},
    )
    note = forms.CharField(max_length=200, required=False, help_text="Optional.")


class RinseForm(ActionForm):
    """What shows that a rinse is done."""

    quantity = forms.ChoiceField(
        label="Read by",
        choices=[(one.value, "pH" if one == Quantity.PH else one.label) for one in JUDGED_BY],
        widget=forms.RadioSelect,
        initial=Quantity.PH,
        error_messages={"required": "Choose pH or conductivity."},
    )
    value = NumberField(
        label="Reading of the rinse",
        pad=True,
        help_text="pH, or conductivity in mS/cm.",
        error_messages={"required": "Enter the reading."},
    )
    supply_value = NumberField(
        label="Reading of the supply water",
        pad=True,
        help_text="pH, or conductivity in mS/cm.",
        error_messages={"required": "Enter the reading of the supply water, today."},
    )

    def __init__(self, *args: Any, brewery: Brewery, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("supply_value", brewery.supply_ph)
