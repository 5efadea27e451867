"""Forms of bridge studies."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms

from brewhygiene.atp.bridges.actions import PairValues
from brewhygiene.atp.bridges.paste import NotPairs, pairs_in_lines
from brewhygiene.atp.bridges.study import CAREFUL, LINE
from brewhygiene.atp.limits.forms import VALID_HELP
from brewhygiene.atp.models.bridges import Bridge
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import DayField, MomentField
from brewhygiene.quantities.fields import CountField


class OpenBridgeForm(ActionForm):
    """The two scales; a scale is a meter with an ATP test."""

    reference_meter = forms.ModelChoiceField(
        Meter.objects.all(), empty_label="Choose", label="Meter"
    )
    reference_atp_test = forms.ModelChoiceField(
        AtpTest.objects.all(), empty_label="Choose", label="ATP test"
    )
    new_meter = forms.ModelChoiceField(
        Meter.objects.filter(active=True), empty_label="Choose", label="Meter"
    )
    new_atp_test = forms.ModelChoiceField(
        AtpTest.objects.all(), empty_label="Choose", label="ATP test"
    )


class SideField(CountField):
    """One reading of a pair; one of the two may be missing."""

    def validate(self, value: Any) -> None:
        """The action refuses a pair without any reading."""


class PairForm(ActionForm):
    """One place read with both scales."""

    use_required_attribute = False

    reference_rlu = SideField(unit="RLU", high=MAX_RLU, pad=True)
    new_rlu = SideField(unit="RLU", high=MAX_RLU, pad=True)
    point = forms.TypedChoiceField(
        required=False,
        empty_value=None,
        label="Sampling point",
        help_text="Optional. If blank, another place.",
    )
    note = forms.CharField(max_length=200, required=False, help_text="E.g. before the clean.")

    def __init__(
        self, *args: Any, bridge: Bridge, points: Sequence[SamplingPoint], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        same_meter = bridge.reference_meter_id == bridge.new_meter_id
        for name, meter, atp_test in (
            ("reference_rlu", bridge.reference_meter, bridge.reference_atp_test),
            ("new_rlu", bridge.new_meter, bridge.new_atp_test),
        ):
            field = self.fields[name]
            field.label = atp_test.name if same_meter else meter.name
            field.help_text = f"in {meter.name}" if same_meter else f"with {atp_test.name}"
        groups: dict[str, list[tuple[str, str]]] = {}
        for point in points:
            groups.setdefault(point.vessel.name, []).append((str(point.pk), point.name))
        where = self.fields["point"]
        assert isinstance(where, forms.TypedChoiceField)
        where.choices = [("", "Another place"), *groups.items()]
        where.coerce = {str(point.pk): point for point in points}.__getitem__

    def values(self) -> PairValues:
        """What was entered; the form is valid."""
        given = self.cleaned_data
        return PairValues(
            reference_rlu=given["reference_rlu"],
            new_rlu=given["new_rlu"],
            point=given["point"],
            note=given["note"],
        )


class PasteForm(ActionForm):
    """Many pairs, one a line."""

    pairs = forms.CharField(
        max_length=20_000,
        # An outer tab is a missing reading copied from a spreadsheet.
        strip=False,
        widget=forms.Textarea(attrs={"rows": 12, "autocomplete": "off", "spellcheck": "false"}),
        error_messages={"required": "Enter at least one line."},
    )
    taken_at = MomentField(label="Time read", help_text="Applies to every pair.")

    def clean_pairs(self) -> list[PairValues]:
        try:
            rows = pairs_in_lines(self.cleaned_data["pairs"])
        except NotPairs as error:
            raise forms.ValidationError(
                [forms.ValidationError(problem, code="invalid") for problem in error.problems]
            ) from error
        return [PairValues(row.reference_rlu, row.new_rlu) for row in rows]


class ExcludePairForm(ActionForm):
    reason = forms.CharField(
        label="Reason", max_length=200, error_messages={"required": "Enter a reason."}
    )


class BridgedLimitsForm(ActionForm):
    """Which limits are proposed, and until when they are valid."""

    choice = forms.ChoiceField(widget=forms.RadioSelect, label="Limits")
    review_on = DayField(
        label="Review on", help_text="Soon. Replace them with a baseline of the new scale."
    )
    valid_until = DayField(label="Valid until", required=False, help_text=VALID_HELP)

    def __init__(self, *args: Any, review_on: date, line: str, careful: str, **kwargs: Any) -> None:
        kwargs["initial"] = {"review_on": review_on, "choice": LINE} | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        field = self.fields["choice"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(LINE, line), (CAREFUL, careful)]
