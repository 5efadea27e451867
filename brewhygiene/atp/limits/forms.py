"""Forms of limits: proposing and signing."""

from datetime import date
from typing import Any

from django import forms

from brewhygiene.atp.limits.actions import NO_MOMENT
from brewhygiene.atp.limits.queries import points_to_choose
from brewhygiene.atp.models.limits import LimitSource
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.cellar.models import SamplingPoint, VesselKind
from brewhygiene.cellar.moments import STATED_MOMENTS
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import DayField
from brewhygiene.quantities.fields import CountField

REVIEW_HELP = "At least once a year, and after a change of meter, ATP test or regime."
VALID_HELP = (
    "Optional. If blank, valid until replaced or retired. After this day readings are unjudged, "
    "which blocks a release."
)


def _point_choices(points: list[SamplingPoint]) -> list[Any]:
    choices: dict[str, list[tuple[str, str]]] = {}
    for point in points:
        choices.setdefault(point.vessel.name, []).append(
            (str(point.pk), f"{point.name} ({point.get_sample_kind_display()})")
        )
    return [("", "All points"), *choices.items()]


# A bridge study proposes its limits itself.
SOURCES = [
    choice
    for choice in LimitSource.choices
    if choice[0] in (LimitSource.MAKER, LimitSource.BASELINE)
]


class LimitsForm(ActionForm):
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
    point = forms.TypedChoiceField(
        required=False,
        empty_value=None,
        label="Sampling point",
        help_text="Optional. Limits of one point take precedence over all others.",
    )
    vessel_kind = forms.ChoiceField(
        required=False,
        choices=[("", "Every kind"), *VesselKind.choices],
        label="Kind of vessel",
        help_text="Optional. Limits of one kind take precedence over those for every kind.",
    )
    moment = forms.ChoiceField(
        label="Sampled",
        choices=STATED_MOMENTS,
        widget=forms.RadioSelect,
        help_text="A reading taken at another moment is not judged by these limits.",
        error_messages={"required": NO_MOMENT},
    )
    alert_rlu = CountField(
        label="Alert level", unit="RLU", high=MAX_RLU, help_text="Clear up to it."
    )
    action_rlu = CountField(
        label="Action limit", unit="RLU", high=MAX_RLU, help_text="Above it the vessel is held."
    )
    source = forms.ChoiceField(choices=SOURCES, widget=forms.RadioSelect, label="Source")
    source_note = forms.CharField(
        max_length=200,
        label="Source in detail",
        help_text="E.g. leaflet of the rinse sampler, 2026.",
        error_messages={"required": "Enter the source, e.g. a leaflet."},
    )
    review_on = DayField(label="Review on", help_text=REVIEW_HELP)
    valid_until = DayField(label="Valid until", required=False, help_text=VALID_HELP)

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
    """The password that signs."""

    password = forms.CharField(
        label="Your password",
        error_messages={"required": "Enter your password to sign."},
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
