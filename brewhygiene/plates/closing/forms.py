"""The form that closes a positive plate, with what it rests on."""

from typing import Any

from django import forms
from django.utils import timezone

from brewhygiene.people.forms import ActionForm
from brewhygiene.plates.closing.models import Inspected
from brewhygiene.plates.closing.queries import ways_to_close
from brewhygiene.plates.models import Plate
from brewhygiene.quantities.days import MomentField
from brewhygiene.quantities.style import shown_moment
from brewhygiene.turnarounds.models import Clean


class CleanChoice(forms.ModelChoiceField):  # type: ignore[type-arg]
    def label_from_instance(self, clean: Clean) -> str:
        assert clean.finished_at is not None
        at = timezone.localtime(clean.finished_at)
        return f"{clean.version}, finished {shown_moment(at, 'D j M Y, H:i')}"


class PlateChoice(forms.ModelChoiceField):  # type: ignore[type-arg]
    def label_from_instance(self, plate: Plate) -> str:
        at = timezone.localtime(plate.taken_at)
        return f"{plate.point.name}, {plate.medium}, taken {shown_moment(at, 'D j M Y')}, negative"


class CloseForm(ActionForm):
    """The re-clean, the inspection, the re-plating, and the response, signed."""

    reclean = CleanChoice(
        label="Re-clean",
        queryset=Clean.objects.none(),
        required=False,
        empty_label=None,
        widget=forms.RadioSelect,
    )
    inspected = forms.ChoiceField(
        label="Inspection",
        choices=Inspected.choices,
        required=False,
        widget=forms.RadioSelect,
        help_text="A fault that is not repaired keeps the vessel held.",
    )
    finding = forms.CharField(
        label="Finding",
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="What was opened, and what was seen.",
    )
    inspected_at = MomentField(
        label="Time of the inspection",
        required=False,
        initial=None,
        help_text="Optional. If blank, now.",
    )
    replating = PlateChoice(
        label="New plate",
        queryset=Plate.objects.none(),
        required=False,
        empty_label=None,
        widget=forms.RadioSelect,
    )
    resolution = forms.CharField(
        label="Measures taken",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="The cause, each fill at risk, and what was done with it.",
        error_messages={"required": "Enter the measures taken."},
    )
    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Enter your password to sign."},
    )

    def __init__(self, *args: Any, plate: Plate, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not plate.open_positive:
            return
        ways = ways_to_close(plate)
        reclean, replating = self.fields["reclean"], self.fields["replating"]
        assert isinstance(reclean, forms.ModelChoiceField)
        assert isinstance(replating, forms.ModelChoiceField)
        reclean.queryset, replating.queryset = ways.recleans, ways.negative
        # The latest of each is what most close with.
        reclean.initial, replating.initial = ways.recleans.first(), ways.negative.first()
        if reclean.initial is None:
            reclean.help_text = (
                f"Missing: a clean at the level {ways.level.label}, finished after this plate was "
                "read positive."
            )
        if replating.initial is None:
            waiting = ways.again.filter(state="pending").first()
            replating.help_text = (
                "The plate taken on "
                f"{shown_moment(timezone.localtime(waiting.taken_at), 'd M Y')} is not read "
                "yet."
                if waiting is not None
                else f"Missing: a plate of {plate.point.name}, {plate.medium}, taken after the "
                "re-clean and read negative."
            )
