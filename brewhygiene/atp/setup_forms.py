"""Forms of control checks, meters, sticks and limits."""

from datetime import date
from typing import Any

from django import forms

from brewhygiene.atp.models import MAX_RLU, LimitSource, Meter, StickLot, StickType
from brewhygiene.atp.setup_actions import MeterValues, StickLotValues, StickTypeValues
from brewhygiene.atp.setup_queries import points_to_choose
from brewhygiene.cellar.models import SampleKind, SamplingPoint
from brewhygiene.people.forms import VerbForm
from brewhygiene.quantities.fields import CountField


class DayField(forms.DateField):
    """A day, on the browser's own calendar."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput({"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)
        self.error_messages["invalid"] = "Give a day, as 2026-03-14."


class CheckForm(VerbForm):
    """A control check: what the meter showed for the blank and for the positive control."""

    blank_rlu = CountField(label="Blank stick", unit="RLU", high=MAX_RLU, pad=True)
    positive_rlu = CountField(label="Positive control", unit="RLU", high=MAX_RLU, pad=True)
    note = forms.CharField(
        max_length=200, required=False, help_text="As “new control opened today”."
    )


class MeterForm(VerbForm):
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


class StickTypeForm(VerbForm):
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

    def __init__(self, *args: Any, stick_type: StickType | None = None, **kwargs: Any) -> None:
        if stick_type is not None:
            kwargs.setdefault(
                "initial", {n: getattr(stick_type, n) for n in _names(StickTypeValues)}
            )
        super().__init__(*args, **kwargs)

    def values(self) -> StickTypeValues:
        """What was typed; the form is valid."""
        return StickTypeValues(
            **{name: self.cleaned_data[name] for name in _names(StickTypeValues)}
        )


class StickLotForm(VerbForm):
    stick_type = forms.ModelChoiceField(
        StickType.objects.all(), empty_label="Choose", label="Kind of stick"
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

    def __init__(self, *args: Any, stick_lot: StickLot | None = None, **kwargs: Any) -> None:
        if stick_lot is not None:
            kwargs.setdefault("initial", {n: getattr(stick_lot, n) for n in _names(StickLotValues)})
        super().__init__(*args, **kwargs)

    def values(self) -> StickLotValues:
        """What was typed; the form is valid."""
        return StickLotValues(**{name: self.cleaned_data[name] for name in _names(StickLotValues)})


def _names(values: Any) -> list[str]:
    return list(values.__dataclass_fields__)


def _point_choices(points: list[SamplingPoint]) -> list[Any]:
    choices: dict[str, list[tuple[str, str]]] = {}
    for point in points:
        choices.setdefault(point.vessel.name, []).append(
            (str(point.pk), f"{point.name} ({point.get_sample_kind_display()})")
        )
    return [("", "all points"), *choices.items()]


# A bridge between two meters has to be fitted first, so it is not offered as a mere choice.
SOURCES = [
    choice
    for choice in LimitSource.choices
    if choice[0] in (LimitSource.MAKER, LimitSource.BASELINE)
]


class LimitsForm(VerbForm):
    meter = forms.ModelChoiceField(Meter.objects.filter(active=True), empty_label="Choose")
    stick_type = forms.ModelChoiceField(
        StickType.objects.all(), empty_label="Choose", label="Kind of stick"
    )
    point = forms.TypedChoiceField(
        required=False,
        empty_value=None,
        label="Only for this point",
        help_text="Limits of a point go before those for all points.",
    )
    alert_rlu = CountField(
        label="Alert level", unit="RLU", high=MAX_RLU, help_text="Up to this it is clear."
    )
    action_rlu = CountField(
        label="Action limit", unit="RLU", high=MAX_RLU, help_text="Above this the vessel is held."
    )
    source = forms.ChoiceField(
        choices=SOURCES, widget=forms.RadioSelect, label="Where they come from"
    )
    source_note = forms.CharField(
        max_length=200,
        label="Where exactly",
        help_text="As “leaflet of the rinse stick, 2026” or “20 clean cone rinses, January to "
        "March”.",
    )
    review_on = DayField(
        label="Review on",
        help_text="At least every year, and after any change of meter, stick or regime (common "
        "practice, no source).",
    )

    valid_until = DayField(
        label="Last day on which they judge",
        required=False,
        help_text="Left empty, they judge until they are replaced or withdrawn. After a last day "
        "readings are unjudged, which blocks release.",
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        initial = {"review_on": next_year(today), "source": LimitSource.MAKER}
        kwargs["initial"] = initial | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        points = list(points_to_choose())
        field = self.fields["point"]
        assert isinstance(field, forms.TypedChoiceField)
        field.choices = _point_choices(points)
        field.coerce = {str(point.pk): point for point in points}.__getitem__


def next_year(day: date) -> date:
    """About a year after ``day``, never on the 29th of February."""
    return day.replace(year=day.year + 1, day=min(day.day, 28))


class SignForm(VerbForm):
    """The password again, under what is signed."""

    password = forms.CharField(
        label="Your password, to sign",
        error_messages={"required": "Type your password to sign."},
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
