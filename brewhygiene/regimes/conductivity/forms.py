"""The form of a conductivity calibration."""

from typing import Any

from django import forms

from brewhygiene.brewery.models import Brewery
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.lines import NotLines, numbers_in_lines
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.regimes.conductivity.calibration import BASES, Pair, usual_basis
from brewhygiene.regimes.models import Agent

COLUMNS = ("strength", "conductivity", "temperature")


class CalibrationForm(ActionForm):
    """Pairs, a line each; the temperature in the site's unit."""

    pairs = forms.CharField(
        label="Pairs",
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 9, "autocomplete": "off", "spellcheck": "false"}),
        error_messages={"required": "Enter at least four pairs."},
    )
    basis = forms.ChoiceField(
        label="Basis of the strengths",
        choices=[(basis.value, basis.label) for basis in BASES],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose a basis."},
    )

    def __init__(self, *args: Any, agent: Agent, brewery: Brewery, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.brewery = brewery
        self.fields["basis"].initial = usual_basis(agent)
        degree = LABELS[brewery.temperature_unit]
        self.fields["pairs"].help_text = (
            "One pair a line: titrated strength, conductivity in mS/cm without compensation, "
            f"temperature in {degree}. Separate them by a space or a semicolon, or paste columns "
            "from a sheet. Enter at least four pairs, or five where the temperature differs."
        )

    def clean_pairs(self) -> list[Pair]:
        try:
            rows = numbers_in_lines(self.cleaned_data["pairs"], columns=COLUMNS)
        except NotLines as error:
            raise forms.ValidationError(str(error), code="invalid") from error
        unit = self.brewery.temperature_unit
        return [
            Pair(strength, conductivity, convert(degrees, unit, "C"))
            for strength, conductivity, degrees in (row.values for row in rows)
        ]


def lines_of(pairs: list[Pair], brewery: Brewery) -> str:
    """Pairs as they would be typed, in the site's unit of temperature."""
    unit = brewery.temperature_unit
    return "\n".join(
        "; ".join(
            show_number(value, significant=6)
            for value in (
                pair.strength,
                pair.conductivity_ms_cm,
                convert(pair.temperature_c, "C", unit),
            )
        )
        for pair in pairs
    )
