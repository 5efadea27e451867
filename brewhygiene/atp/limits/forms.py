"""Forms of limits: proposed, signed."""

from datetime import date
from typing import Any

from django import forms

from brewhygiene.atp.limits.queries import points_to_choose
from brewhygiene.atp.models.limits import LimitSource
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import DayField
from brewhygiene.quantities.fields import CountField


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


class LimitsForm(ActionForm):
    meter = forms.ModelChoiceField(Meter.objects.filter(active=True), empty_label="Choose")
    atp_test = forms.ModelChoiceField(
        AtpTest.objects.all(), empty_label="Choose", label="Kind of stick"
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


class SignForm(ActionForm):
    """The password again, under what is signed."""

    password = forms.CharField(
        label="Your password, to sign",
        error_messages={"required": "Type your password to sign."},
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
