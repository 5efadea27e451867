"""Set-up forms of vessels, sampling points, beers and clocks."""

from typing import Any

from django import forms
from django.db.models import Model

from brewhygiene.brewery.models import Brewery, VolumeUnit
from brewhygiene.cellar.clock_actions import DEFAULT_HOURS, LEAST_H, MOST_H, Hours
from brewhygiene.cellar.models import (
    CleanLevel,
    Material,
    SampleKind,
    SprayDevice,
    Vessel,
    VesselKind,
)
from brewhygiene.people.forms import VerbForm
from brewhygiene.quantities.fields import CountField, NumberField, StoredQuantityField


def length_unit(brewery: Brewery) -> str:
    """Diameters go with volumes: inches beside barrels and gallons, metres beside hectolitres."""
    return "m" if brewery.volume_unit == VolumeUnit.HL else "in"


class RegimeChoice(forms.ModelChoiceField):  # type: ignore[type-arg]
    def __init__(self, **kwargs: Any) -> None:
        # Regimes stand a floor above: the vessel's own field knows their table.
        table = Vessel._meta.get_field("default_regime").related_model
        assert isinstance(table, type)
        assert issubclass(table, Model)
        super().__init__(
            queryset=table._default_manager.filter(active=True, resanitises_only=False),
            empty_label="none: let the proposal choose",
            required=False,
            **kwargs,
        )


class VesselForm(VerbForm):
    name = forms.CharField(max_length=40, help_text="As it stands on the tank: “FV 3”.")
    kind = forms.ChoiceField(choices=VesselKind.choices)
    volume_hl = StoredQuantityField(label="Volume", stored="hL", low=0.001, high=10_000)
    diameter_m = StoredQuantityField(
        label="Diameter",
        stored="m",
        low=0.005,
        high=15,
        required=False,
        help_text="Inside; the bore of a line or hose. For the flow that a spray device needs.",
    )
    spray_device = forms.ChoiceField(
        label="Spray device", choices=SprayDevice.choices, initial=SprayDevice.STATIC_BALL
    )
    solution_l = StoredQuantityField(
        label="Solution in the circuit",
        stored="L",
        low=0.1,
        high=1_000_000,
        required=False,
        help_text="Volume of one cleaning solution, tank and lines together. For what to add when "
        "it is weak, for the tank gas and for the cost.",
    )
    material = forms.ChoiceField(choices=Material.choices, initial=Material.STAINLESS_304)
    pressure_rating_bar = NumberField(
        label="Pressure rating",
        unit="bar",
        low=0,
        high=20,
        required=False,
        help_text="Overpressure, from the plate on the vessel.",
    )
    vacuum_rating_mbar = NumberField(
        label="Vacuum rating",
        unit="mbar",
        low=0,
        high=1013,
        required=False,
        help_text="Underpressure it stands, below ambient; 0 if none.",
    )
    least_level = forms.TypedChoiceField(
        label="A clean of it must be at least",
        choices=CleanLevel.choices,
        coerce=int,
        initial=CleanLevel.ORDINARY,
    )
    default_regime = RegimeChoice(
        label="Preferred regime", help_text="Taken where several would do."
    )
    acid_every_n = CountField(
        label="Acid at least every",
        low=1,
        high=1000,
        initial=5,
        help_text="Against beerstone. Every 3 to 5 is usual where caustic is the rule: "
        "common practice, no source.",
    )
    caustic_every_n = CountField(
        label="Caustic at least every",
        low=1,
        high=1000,
        initial=10,
        help_text="Where acid alone is the rule. Every 10 to start with: common practice, "
        "no source.",
    )
    order = CountField(
        label="Place on the board",
        low=0,
        high=9999,
        initial=0,
        help_text="Small numbers come first; equal ones by name.",
    )
    note = forms.CharField(
        required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, brewery: Brewery, vessel: Vessel | None = None, **kwargs: Any):
        super().__init__(*args, **kwargs)
        units = {
            "volume_hl": brewery.volume_unit,
            "diameter_m": length_unit(brewery),
            "solution_l": brewery.solution_unit,
        }
        for name, unit in units.items():
            field = self.fields[name]
            assert isinstance(field, StoredQuantityField)
            field.show_in(unit, kept=getattr(vessel, name, None))

    def values(self) -> dict[str, Any]:
        """What the verb takes."""
        return {
            name: value
            for name, value in self.cleaned_data.items()
            if name not in ("key", "client_time")
        }


class ReasonForm(VerbForm):
    reason = forms.CharField(
        max_length=200, error_messages={"required": "Say why, so that others know."}
    )


class PhotoForm(VerbForm):
    photo = forms.FileField(
        label="Photo",
        max_length=300,
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        help_text="JPEG, PNG or WebP, up to 15 MB.",
        error_messages={
            "required": "Choose a photo first.",
            "empty": "That file is empty.",
            "invalid": "Choose a photo first.",
        },
    )


class PointForm(VerbForm):
    name = forms.CharField(max_length=60, help_text="As the cellar says it: “racking arm”.")
    sample_kind = forms.ChoiceField(
        label="Sample",
        choices=[
            (SampleKind.RINSE, "Rinse: the last rinse or the sanitiser's drain, caught"),
            (SampleKind.SURFACE, "Surface: a swab of a stated area"),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose one of the two."},
    )
    area_cm2 = NumberField(
        label="Area swabbed",
        unit="cm²",
        low=1,
        high=10_000,
        required=False,
        help_text="For a surface sample. 100 cm² is 10 × 10 cm.",
    )
    required_for_release = forms.BooleanField(
        label="Required for release",
        required=False,
        initial=True,
        help_text="Without its reading after the last clean, the vessel is not released.",
    )
    where_to_find = forms.CharField(
        label="Where to find it",
        required=False,
        max_length=200,
        help_text="For somebody who has never sampled there.",
    )
    order = CountField(
        label="Place in the round",
        low=0,
        high=9999,
        required=False,
        help_text="Small numbers are sampled first. Empty: last.",
    )

    def values(self) -> dict[str, Any]:
        """What the verb takes; a place that was left empty is left out."""
        given = {
            name: self.cleaned_data[name]
            for name in ("name", "sample_kind", "area_cm2", "required_for_release", "where_to_find")
        }
        if self.cleaned_data["order"] is not None:
            given["order"] = self.cleaned_data["order"]
        return given


class BeerForm(VerbForm):
    name = forms.CharField(max_length=60)
    sour_or_mixed = forms.BooleanField(
        label="Sour or mixed culture",
        required=False,
        help_text="Lactics, Brettanomyces or a mixed culture. A kettle sour is ordinary.",
    )
    diastatic = forms.BooleanField(
        label="Diastatic yeast",
        required=False,
        help_text="It ferments what the next beer's yeast leaves.",
    )
    fruit_or_heavy_hops = forms.BooleanField(
        label="Fruit or heavy dry hop",
        required=False,
        help_text="It may block a spray device, so the device is looked at.",
    )
    allergen = forms.CharField(
        label="Allergen",
        max_length=100,
        required=False,
        help_text="As “lactose” or “nuts”. ATP proves nothing about allergens: they need a test "
        "of their own.",
    )
    strict_before = forms.BooleanField(
        label="Asks for a strong clean before it",
        required=False,
        help_text="A beer without alcohol, or one sold as free of an allergen.",
    )

    def values(self) -> dict[str, Any]:
        """What the verb takes."""
        return {
            name: value
            for name, value in self.cleaned_data.items()
            if name not in ("key", "client_time")
        }


class EditBeerForm(BeerForm):
    active = forms.BooleanField(
        label="Still brewed", required=False, help_text="Untick to take it off the lists."
    )


class ClocksForm(VerbForm):
    """Three hours for every kind of vessel."""

    LABELS = {
        "dirty_hold_h": "dirty-hold",
        "clean_hold_h": "clean-hold",
        "sanitised_hold_h": "sanitised-hold",
    }

    def __init__(self, *args: Any, stored: dict[str, Hours], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.stored = stored
        for kind, label in VesselKind.choices:
            hours = stored.get(kind, DEFAULT_HOURS)
            for name, value in hours._asdict().items():
                field = NumberField(
                    label=self.LABELS[name], low=LEAST_H, high=MOST_H, unit="h", initial=value
                )
                field.widget.attrs["aria-label"] = f"{label}, {self.LABELS[name]}, hours"
                self.fields[f"{kind}-{name}"] = field

    @property
    def rows(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [
            (label, [self[f"{kind}-{name}"] for name in Hours._fields])
            for kind, label in VesselKind.choices
        ]

    def changed_clocks(self) -> dict[str, Hours]:
        """The hours of the kinds that were changed, by kind."""
        changed = {}
        for kind in VesselKind.values:
            hours = Hours(*(self.cleaned_data[f"{kind}-{name}"] for name in Hours._fields))
            if hours != self.stored.get(kind, DEFAULT_HOURS):
                changed[kind] = hours
        return changed
