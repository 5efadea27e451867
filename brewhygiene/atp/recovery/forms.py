"""The form of a recovery study."""

from datetime import date
from typing import Any

from django import forms

from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.recovery.actions import STRONGEST_MG_L
from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.people.forms import ConfirmedForm
from brewhygiene.quantities.days import DayField
from brewhygiene.quantities.fields import NumberField
from brewhygiene.quantities.parsing import NotANumber, parse_count
from brewhygiene.regimes.models import Agent, AgentKind


class ReadingsField(forms.CharField):
    """Readings in RLU, with spaces or lines between them."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            max_length=500,
            widget=forms.Textarea(attrs={"rows": 4, "inputmode": "numeric"}),
            error_messages={"required": "Enter the readings, e.g. 1040 985 1120."},
            **kwargs,
        )

    def clean(self, value: Any) -> list[int]:
        text = super().clean(value)
        try:
            return [parse_count(word) for word in text.replace(";", " ").split()]
        except NotANumber as error:
            raise forms.ValidationError(str(error), code="invalid") from error


class StudyForm(ConfirmedForm):
    agent = forms.ModelChoiceField(
        Agent.objects.filter(kind=AgentKind.SANITISER, active=True),
        empty_label="Choose",
        label="Sanitiser",
        error_messages={"required": "Choose a sanitiser."},
    )
    strength_mg_l = NumberField(
        label="Strength studied",
        unit="mg/L",
        low=0.1,
        high=STRONGEST_MG_L,
        help_text="The study holds for readings in the sanitiser up to this strength.",
    )
    meter = forms.ModelChoiceField(
        Meter.objects.filter(active=True),
        empty_label="Choose",
        error_messages={"required": "Choose a meter."},
    )
    atp_test = forms.ModelChoiceField(
        AtpTest.objects.all(),
        empty_label="Choose",
        label="ATP test",
        error_messages={"required": "Choose an ATP test."},
    )
    water_rlu = ReadingsField(
        label="Positive in water, RLU",
        help_text="Your own rinse water with a positive near the action limit, at least 3 "
        "readings, better 5 or more. Alternate with the sanitiser, same lot and meter.",
    )
    sanitiser_rlu = ReadingsField(label="Positive in the sanitiser, RLU")
    water_blank_rlu = NumberField(
        label="Blank of the water", unit="RLU", low=0, high=MAX_RLU, initial=0
    )
    sanitiser_blank_rlu = NumberField(
        label="Blank of the sanitiser", unit="RLU", low=0, high=MAX_RLU, initial=0
    )
    done_on = DayField(label="Done on")
    field_order = (
        "agent",
        "strength_mg_l",
        "meter",
        "atp_test",
        "water_rlu",
        "water_blank_rlu",
        "sanitiser_rlu",
        "sanitiser_blank_rlu",
        "done_on",
        "password",
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        kwargs["initial"] = {"done_on": today} | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
