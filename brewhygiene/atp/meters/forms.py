"""Forms of control checks, meters and ATP tests."""

from typing import Any

from django import forms

from brewhygiene.atp.meters.actions import AtpTestLotValues, AtpTestValues, MeterValues
from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, Meter
from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.cellar.models import SampleKind
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import DayField
from brewhygiene.quantities.fields import CountField


class CheckForm(ActionForm):
    """A control check: what the meter showed for the blank and for the positive control."""

    blank_rlu = CountField(label="Blank stick", unit="RLU", high=MAX_RLU, pad=True)
    positive_rlu = CountField(label="Positive control", unit="RLU", high=MAX_RLU, pad=True)
    note = forms.CharField(
        max_length=200, required=False, help_text="As “new control opened today”."
    )


class MeterForm(ActionForm):
    name = forms.CharField(
        max_length=60, help_text="What you call it: no make is needed, as “Cellar meter”."
    )
    serial = forms.CharField(max_length=60, label="Serial number", help_text="From its plate.")
    scale_note = forms.CharField(
        max_length=200,
        required=False,
        label="Its scale",
        help_text="In the maker's words or yours, as “0 to 9,999 RLU, whole numbers”.",
    )
    blank_max_rlu = CountField(
        label="A blank may read at most",
        unit="RLU",
        high=MAX_RLU,
        help_text="From the control kit's leaflet, as the two below.",
    )
    positive_min_rlu = CountField(
        label="The positive control reads at least", unit="RLU", high=MAX_RLU
    )
    positive_max_rlu = CountField(label="and at most", unit="RLU", high=MAX_RLU)
    active = forms.BooleanField(required=False, initial=True, label="In use")

    def __init__(self, *args: Any, meter: Meter | None = None, **kwargs: Any) -> None:
        if meter is not None:
            kwargs.setdefault("initial", {n: getattr(meter, n) for n in _names(MeterValues)})
        super().__init__(*args, **kwargs)

    def values(self) -> MeterValues:
        """What was typed; the form is valid."""
        return MeterValues(**{name: self.cleaned_data[name] for name in _names(MeterValues)})


class AtpTestForm(ActionForm):
    name = forms.CharField(max_length=60, help_text="As “Rinse stick” or “Surface swab”.")
    sample_kind = forms.ChoiceField(
        choices=SampleKind.choices, widget=forms.RadioSelect, label="It samples"
    )
    storage = forms.CharField(
        max_length=200,
        required=False,
        label="How it is kept",
        help_text="From the box, as “2 to 8 °C; 10 to 15 min to room temperature before use”.",
    )

    def __init__(self, *args: Any, atp_test: AtpTest | None = None, **kwargs: Any) -> None:
        if atp_test is not None:
            kwargs.setdefault("initial", {n: getattr(atp_test, n) for n in _names(AtpTestValues)})
        super().__init__(*args, **kwargs)

    def values(self) -> AtpTestValues:
        """What was typed; the form is valid."""
        return AtpTestValues(**{name: self.cleaned_data[name] for name in _names(AtpTestValues)})


class AtpTestLotForm(ActionForm):
    atp_test = forms.ModelChoiceField(
        AtpTest.objects.all(), empty_label="Choose", label="Kind of stick"
    )
    lot = forms.CharField(max_length=40, label="Lot", help_text="As it stands on the box.")
    expires_on = DayField(label="Good until", help_text="The last day on which one may be used.")
    received_on = DayField(label="Received on", required=False)
    storage_note = forms.CharField(
        max_length=200,
        required=False,
        label="Where and how this lot is kept",
        help_text="As “lab fridge, was warm for a day on 3 March”.",
    )
    active = forms.BooleanField(required=False, initial=True, label="In use")

    def __init__(self, *args: Any, test_lot: AtpTestLot | None = None, **kwargs: Any) -> None:
        if test_lot is not None:
            kwargs.setdefault(
                "initial", {n: getattr(test_lot, n) for n in _names(AtpTestLotValues)}
            )
        super().__init__(*args, **kwargs)

    def values(self) -> AtpTestLotValues:
        """What was typed; the form is valid."""
        return AtpTestLotValues(
            **{name: self.cleaned_data[name] for name in _names(AtpTestLotValues)}
        )


def _names(values: Any) -> list[str]:
    return list(values.__dataclass_fields__)
