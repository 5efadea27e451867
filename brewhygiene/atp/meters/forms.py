"""Forms of control checks, meters and ATP tests."""

from typing import Any

from django import forms

from brewhygiene.atp.meters.actions import AtpTestLotValues, AtpTestValues, MeterValues
from brewhygiene.atp.models.meters import TEST_KINDS, AtpTest
from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.codes.fields import FilledByCode, GtinField, LotField
from brewhygiene.quantities.days import DayField
from brewhygiene.quantities.fields import CountField

NO_BLANK = "Enter the reading of the blank, e.g. 0."
GTIN_HELP = "Optional. The digits below the barcode: scanning it then fills in the product."
NO_POSITIVE = "Enter the reading of the positive control, e.g. 200."


class CheckForm(ActionForm):
    """A control check: the readings of the blank and of the positive control."""

    blank_rlu = CountField(
        label="Blank", unit="RLU", high=MAX_RLU, pad=True, error_messages={"required": NO_BLANK}
    )
    positive_rlu = CountField(
        label="Positive control",
        unit="RLU",
        high=MAX_RLU,
        pad=True,
        error_messages={"required": NO_POSITIVE},
    )
    note = forms.CharField(
        max_length=200, required=False, help_text="E.g. new control opened today."
    )


class ValuesForm(ActionForm):
    """A form of the values of a record of the set-up, ``record_values``."""

    record_values: type[MeterValues] | type[AtpTestValues] | type[AtpTestLotValues]

    def __init__(self, *args: Any, instance: Any = None, **kwargs: Any) -> None:
        self._names = list(self.record_values.__dataclass_fields__)
        if instance is not None:
            kwargs["initial"] = {name: getattr(instance, name) for name in self._names}
        super().__init__(*args, **kwargs)

    def values(self) -> Any:
        """What was entered, as ``record_values``; the form is valid."""
        return self.record_values(**{name: self.cleaned_data[name] for name in self._names})


class MeterForm(ValuesForm):
    record_values = MeterValues

    name = forms.CharField(
        max_length=60,
        help_text="E.g. Cellar meter.",
        error_messages={"required": "Enter a name."},
    )
    serial = forms.CharField(
        max_length=60,
        label="Serial number",
        help_text="From the type plate.",
        error_messages={"required": "Enter the serial number."},
    )
    scale_note = forms.CharField(
        max_length=200,
        required=False,
        label="Scale",
        help_text="E.g. 0 to 9,999 RLU, whole numbers.",
    )
    blank_max_rlu = CountField(
        label="Blank, maximum",
        unit="RLU",
        high=MAX_RLU,
        help_text="From the leaflet of the control kit.",
    )
    positive_min_rlu = CountField(label="Positive control, minimum", unit="RLU", high=MAX_RLU)
    positive_max_rlu = CountField(label="Positive control, maximum", unit="RLU", high=MAX_RLU)
    active = forms.BooleanField(
        required=False, initial=True, label="In use", help_text="Clear this to retire the meter."
    )


class AtpTestForm(ValuesForm):
    record_values = AtpTestValues

    name = forms.CharField(
        max_length=60,
        help_text="E.g. Rinse sampler.",
        error_messages={"required": "Enter a name."},
    )
    sample_kind = forms.ChoiceField(
        choices=[(kind.value, f"{words} ({kind.label})") for kind, words in TEST_KINDS.items()],
        widget=forms.RadioSelect,
        label="Kind",
        error_messages={"required": "Choose a kind."},
    )
    storage = forms.CharField(
        max_length=200,
        required=False,
        label="Storage",
        help_text="From the box, e.g. 2 to 8 °C, warm up 10 to 15 min before use.",
    )
    gtin = GtinField(max_length=14, help_text=GTIN_HELP)


class AtpTestLotForm(FilledByCode, ValuesForm):
    record_values = AtpTestLotValues

    atp_test = forms.ModelChoiceField(
        AtpTest.objects.all(),
        empty_label="Choose",
        label="ATP test",
        error_messages={"required": "Choose an ATP test."},
    )
    lot = LotField(
        scan="atp_test",
        max_length=40,
        label="Lot",
        help_text="As printed on the box, or scan its barcode.",
        error_messages={"required": "Enter the lot."},
    )
    expires_on = DayField(
        label="Expires on",
        help_text="The last day of use.",
        error_messages={"required": "Enter the expiry date."},
    )
    received_on = DayField(label="Received on", required=False)
    storage_note = forms.CharField(
        max_length=200,
        required=False,
        label="Storage of this lot",
        help_text="E.g. lab fridge, warm for a day in March.",
    )
    active = forms.BooleanField(
        required=False, initial=True, label="In use", help_text="Clear this to retire the lot."
    )
