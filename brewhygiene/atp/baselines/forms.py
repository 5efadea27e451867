"""Forms of baselines: choice, coverage, exclusion, proposal."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django import forms

from brewhygiene.atp.limits.forms import REVIEW_HELP, VALID_HELP, next_year
from brewhygiene.atp.models.baselines import Baseline
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.cellar.models import SamplingPoint, VesselKind
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import DayField
from brewhygiene.quantities.fields import NumberField
from brewhygiene.quantities.style import digits
from brewhygiene.regimes.models import Regime
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.limits.asked import Asked

USUAL_PERIOD = timedelta(days=90)


class BaselineForm(ActionForm):
    name = forms.CharField(
        max_length=80,
        help_text="E.g. Cone rinses, spring.",
        error_messages={"required": "Enter a name."},
    )
    meter = forms.ModelChoiceField(
        Meter.objects.all(),
        empty_label="Choose",
        error_messages={"required": "Choose a meter."},
    )
    atp_test = forms.ModelChoiceField(
        AtpTest.objects.all(),
        empty_label="Choose",
        label="ATP test",
        error_messages={"required": "Choose an ATP test."},
    )
    since = DayField(label="First day")
    until = DayField(label="Last day")
    points = forms.ModelMultipleChoiceField(
        SamplingPoint.objects.filter(active=True)
        .select_related("vessel")
        .order_by("vessel__order", "vessel__sort_key", "order", "id"),
        required=False,
        label="Sampling points",
    )
    vessel_kind = forms.ChoiceField(
        required=False,
        choices=[("", "Single points, or all"), *VesselKind.choices],
        label="Kind of vessel",
        help_text="Optional. All vessels of this kind together, for limits of the kind.",
    )
    regimes = forms.ModelMultipleChoiceField(
        Regime.objects.filter(active=True).order_by("sort_key"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Regimes",
        help_text="Optional. If blank, cleans by any regime.",
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        usual = {"since": today - USUAL_PERIOD, "until": today}
        kwargs["initial"] = usual | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)

    def points_by_vessel(self) -> list[tuple[str, bool, list[tuple[SamplingPoint, bool]]]]:
        """Vessel, whether any of its points is ticked, and its points, ticked or not."""
        ticked = {str(value) for value in self["points"].value() or ()}
        groups: dict[str, list[tuple[SamplingPoint, bool]]] = {}
        field = self.fields["points"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        for point in field.queryset or ():
            groups.setdefault(point.vessel.name, []).append((point, str(point.pk) in ticked))
        return [(vessel, any(on for _, on in points), points) for vessel, points in groups.items()]


class AskedForm(forms.Form):
    """Coverage and confidence of the limits; in the address, so that a study can be linked to."""

    alert = NumberField(
        label="Alert level covers", unit="% of clean readings", low=50, high=99.9, required=False
    )
    action = NumberField(
        label="Action limit covers", unit="% of clean readings", low=50, high=99.9, required=False
    )
    sure = NumberField(label="Confidence", unit="%", low=50, high=99.9, required=False)
    k_alert = NumberField(
        label="k of the alert level",
        unit="SD",
        low=0.5,
        high=10,
        required=False,
        help_text="Optional. If blank, the exact one-sided tolerance factor.",
    )
    k_action = NumberField(
        label="k of the action limit", unit="SD", low=0.5, high=10, required=False
    )

    def __init__(self, data: Mapping[str, Any]) -> None:
        usual = Asked()
        shown = {
            "alert": digits(100 * usual.alert_coverage, "g"),
            "action": digits(100 * usual.action_coverage, "g"),
            "sure": digits(100 * usual.confidence, "g"),
        }
        given = {name: data[name] for name in self.base_fields if data.get(name, "").strip()}
        super().__init__(shown | given, label_suffix="")
        self._asked: Asked | None = None

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or {}
        if self.errors:
            return given
        try:
            self._asked = Asked(
                alert_coverage=given["alert"] / 100,
                action_coverage=given["action"] / 100,
                confidence=given["sure"] / 100,
                alert_k=given["k_alert"],
                action_k=given["k_action"],
            )
        except OutOfRange as error:
            self.add_error(None, str(error))
        return given

    def asked(self) -> Asked:
        """Coverage and confidence as entered; the usual ones where the entry is not valid."""
        return (self._asked if self.is_valid() else None) or Asked()

    def address(self) -> str:
        """The query string of this form."""
        return urlencode({name: self.data[name] for name in self.base_fields if name in self.data})


class ReasonForm(ActionForm):
    reason = forms.CharField(
        max_length=200,
        label="Reason",
        help_text="The cause, e.g. swab touched the door frame. A high number is not a reason.",
        error_messages={"required": "Enter a reason."},
    )


class ProposeFromBaselineForm(ActionForm):
    point = forms.ModelChoiceField(
        SamplingPoint.objects.none(),
        required=False,
        empty_label="All points of this kind",
        label="Applies to",
        help_text="Limits of one point take precedence. All points includes points without "
        "readings here.",
    )
    review_on = DayField(label="Review on", help_text=REVIEW_HELP)
    valid_until = DayField(label="Valid until", required=False, help_text=VALID_HELP)
    alert_seen = forms.IntegerField(widget=forms.HiddenInput)
    action_seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        today: date,
        baseline: Baseline,
        points: list[int],
        seen: tuple[int, int],
        **kwargs: Any,
    ) -> None:
        chosen = [point.pk for point in baseline.points.all()]
        kwargs["initial"] = {
            "review_on": next_year(today),
            "point": chosen[0] if len(chosen) == 1 else None,
            "alert_seen": seen[0],
            "action_seen": seen[1],
        }
        super().__init__(*args, **kwargs)
        field = self.fields["point"]
        assert isinstance(field, forms.ModelChoiceField)
        if baseline.vessel_kind:
            field.empty_label = baseline.where.capitalize()
            field.help_text = (
                "Limits of one point take precedence over those of the kind. Those of the kind "
                "judge vessels without readings here too."
            )
        field.queryset = (
            SamplingPoint.objects.filter(pk__in=points)
            .select_related("vessel")
            .order_by("vessel__order", "vessel__sort_key", "order", "id")
        )
