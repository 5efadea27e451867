"""The form that sends a plate. Reading and closing have their own modules."""

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import SampleKind, SamplingPoint, Vessel
from brewhygiene.people.forms import ActionForm
from brewhygiene.plates.media import BY_NAME, MEDIA, OTHER, USUAL, Medium
from brewhygiene.plates.neutralisers import Neutraliser, fit_words, proposed
from brewhygiene.quantities.days import MomentField
from brewhygiene.quantities.fields import CountField, NumberField, StoredQuantityField
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import shown_moment
from brewhygiene.quantities.units import LABELS, convert


class PointChoice(forms.ModelChoiceField):  # type: ignore[type-arg]
    """The points of one vessel, which need not name it each time."""

    def label_from_instance(self, point: SamplingPoint) -> str:
        return point.name


class SendForm(ActionForm):
    """A sample to be incubated; temperature and days left blank are the medium's usual ones."""

    point = PointChoice(
        label="Sampling point",
        queryset=SamplingPoint.objects.none(),
        empty_label=None,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose a sampling point."},
    )
    medium = forms.ChoiceField(
        widget=forms.RadioSelect, error_messages={"required": "Choose a medium."}
    )
    other_medium = forms.CharField(
        label="Name of the other medium",
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    neutraliser = forms.ChoiceField(
        label="Neutraliser",
        choices=Neutraliser.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose the neutraliser."},
    )
    incubation_c = StoredQuantityField(
        label="Incubation temperature",
        stored="C",
        low=4,
        high=60,
        required=False,
        help_text="Optional. If blank, as usual for the medium.",
    )
    incubation_days = CountField(
        label="Incubation time",
        unit="days",
        low=1,
        high=30,
        required=False,
        help_text="Optional. If blank, as usual for the medium.",
    )
    suspension_ml = NumberField(
        label="Suspension volume of the swab",
        unit="mL",
        low=0.1,
        high=10_000,
        required=False,
        help_text="Optional. If blank, no count by area.",
    )
    area_cm2 = NumberField(
        label="Swabbed area",
        unit="cm²",
        low=1,
        high=10_000,
        required=False,
        help_text="Optional. If blank, the area of the point.",
    )
    taken_at = MomentField(
        label="Time taken", required=False, initial=None, help_text="Optional. If blank, now."
    )

    def __init__(
        self, *args: Any, vessel: Vessel, brewery: Brewery, inside: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        # For the sanitiser that the record says is in the vessel now.
        self.fields["neutraliser"].initial = proposed(inside)
        self.fields["neutraliser"].help_text = fit_words(inside) or "No sanitiser is left inside."
        point, medium, degrees = (self.fields[name] for name in ("point", "medium", "incubation_c"))
        assert isinstance(point, forms.ModelChoiceField)
        assert isinstance(medium, forms.ChoiceField)
        assert isinstance(degrees, StoredQuantityField)
        point.queryset = vessel.points.filter(active=True)
        degrees.show_in(brewery.temperature_unit, kept=None)
        if not point.queryset.filter(sample_kind=SampleKind.SURFACE).exists():
            del self.fields["suspension_ml"], self.fields["area_cm2"]
        medium.choices = [
            *((each.name, self._words(each, brewery)) for each in MEDIA),
            (OTHER, f"Another medium. {self._usual(USUAL, brewery)}"),
        ]

    @staticmethod
    def _usual(medium: Medium, brewery: Brewery) -> str:
        unit = brewery.temperature_unit
        shown = show_number(convert(medium.incubation_c, "C", unit))
        ready = timezone.localdate() + timedelta(days=medium.incubation_days)
        return (
            f"{shown} {LABELS[unit]}, {medium.incubation_days} days: "
            f"taken today, due {shown_moment(ready, 'D j M')}"
        )

    @classmethod
    def _words(cls, medium: Medium, brewery: Brewery) -> str:
        return f"{medium.name}: {medium.grows}. {cls._usual(medium, brewery)}"

    def clean(self) -> None:
        given = self.cleaned_data
        if given.get("medium") == OTHER and not given.get("other_medium"):
            self.add_error("other_medium", "Enter the medium.")

    @property
    def medium_name(self) -> str:
        chosen: str = self.cleaned_data["medium"]
        return self.cleaned_data["other_medium"] if chosen == OTHER else chosen

    @property
    def incubation(self) -> tuple[float, int]:
        """°C and days: as typed, or the medium's usual ones."""
        usual = BY_NAME.get(self.cleaned_data["medium"], USUAL)
        degrees, days = self.cleaned_data["incubation_c"], self.cleaned_data["incubation_days"]
        return (
            usual.incubation_c if degrees is None else degrees,
            usual.incubation_days if days is None else days,
        )

    def taken_or(self, now: datetime) -> datetime:
        moment: datetime | None = self.cleaned_data["taken_at"]
        return moment or now
