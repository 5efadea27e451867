"""Forms of changeovers."""

from typing import Any

from django import forms

from brewhygiene.cellar.allergens import Allergen
from brewhygiene.changeovers.models import Finding, HowTested
from brewhygiene.people.forms import ActionForm, ConfirmedForm
from brewhygiene.quantities.codes.fields import FilledByCode, LotField
from brewhygiene.quantities.days import DayField, MomentField
from brewhygiene.quantities.fields import CountField
from brewhygiene.regimes.models import RegimeVersion

CHOOSE = [("", "Choose")]


def _allergen_field(**kwargs: Any) -> forms.ChoiceField:
    return forms.ChoiceField(
        label="Allergen",
        choices=[*CHOOSE, *Allergen.choices],
        error_messages={"required": "Choose an allergen of the list."},
        **kwargs,
    )


class ValidationForm(ConfirmedForm):
    """Which regime version takes which allergen away, and what shows it."""

    version = forms.ModelChoiceField(
        label="Regime",
        queryset=RegimeVersion.objects.none(),
        empty_label="Choose",
        error_messages={"required": "Choose a regime."},
        help_text="Its version in force. A new version has to be validated again.",
    )
    allergen = _allergen_field()
    validated_on = DayField(
        label="Day of the report", error_messages={"required": "Enter the day of the report."}
    )
    report = forms.CharField(
        max_length=120,
        help_text="Its number, and where it is to be found.",
        error_messages={"required": "Enter where the report is to be found."},
    )
    tests = CountField(
        label="Negative tests",
        low=1,
        high=1000,
        help_text="How many the report rests on, every one negative. At least 3, of 3 runs. "
        "Common practice, no source.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["version"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = (
            RegimeVersion.objects.filter(
                current=True, regime__active=True, regime__resanitises_only=False
            )
            .select_related("regime")
            .order_by("regime__sort_key")
        )


class RetireForm(ConfirmedForm):
    """Why a validation no longer stands."""

    reason = forms.CharField(
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Enter a reason."},
    )


class AllergenTestForm(FilledByCode, ActionForm):
    """What an allergen test showed."""

    allergen = _allergen_field()
    kind = forms.ChoiceField(
        label="Kind of test",
        choices=HowTested.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose how it was tested."},
    )
    lot = LotField(
        label="Lot of the test",
        max_length=40,
        help_text="As printed on the box, or scan its barcode.",
        error_messages={"required": "Enter the lot of the test."},
    )
    expires_on = DayField(
        label="In date until", error_messages={"required": "Enter the date on the test."}
    )
    result = forms.ChoiceField(
        label="Result, as read",
        choices=Finding.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose negative or positive."},
    )
    taken_at = MomentField(label="Sampled at")
    note = forms.CharField(
        max_length=200, required=False, help_text="Optional. E.g. where it was swabbed."
    )
