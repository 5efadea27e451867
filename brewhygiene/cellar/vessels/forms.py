"""Set-up forms of vessels."""

from typing import Any

from django import forms
from django.db.models import Model

from brewhygiene.brewery.models import Brewery, VolumeUnit
from brewhygiene.cellar.by_date import LONGEST_DAYS
from brewhygiene.cellar.cultures import CultureUse
from brewhygiene.cellar.materials import SEAL_MATERIALS, SPRAY_MATERIALS, WALL_MATERIALS, Material
from brewhygiene.cellar.models import CleanLevel, SprayDevice, Vessel, VesselKind
from brewhygiene.people.forms import ActionForm, password_field
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
            empty_label="none, use the proposed regime",
            required=False,
            **kwargs,
        )


class VesselForm(ActionForm):
    name = forms.CharField(max_length=40, help_text="As written on the vessel, e.g. FV 3.")
    kind = forms.ChoiceField(choices=VesselKind.choices)
    volume_hl = StoredQuantityField(label="Volume", stored="hL", low=0.001, high=10_000)
    diameter_m = StoredQuantityField(
        label="Diameter",
        stored="m",
        low=0.005,
        high=15,
        required=False,
        help_text="Optional. Inside diameter, or the bore of a line or hose. For the flow needed.",
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
        help_text="Optional. Volume of one cleaning solution, tank and lines together.",
    )
    material = forms.ChoiceField(choices=WALL_MATERIALS, initial=Material.STAINLESS_304)
    seal_material = forms.ChoiceField(
        label="Seals",
        choices=SEAL_MATERIALS,
        initial=Material.UNKNOWN,
        help_text="As on the seal or its delivery note. The weakest if there are several.",
    )
    spray_device_material = forms.ChoiceField(
        label="Spray device material",
        choices=SPRAY_MATERIALS,
        initial=Material.UNKNOWN,
        help_text="Of its weakest part, e.g. a bearing.",
    )
    pressure_rating_bar = NumberField(
        label="Pressure rating",
        unit="bar",
        low=0,
        high=20,
        required=False,
        help_text="Optional. Overpressure, from the rating plate.",
    )
    vacuum_rating_mbar = NumberField(
        label="Vacuum rating",
        unit="mbar",
        low=0,
        high=1013,
        required=False,
        help_text="Optional. Allowed underpressure below ambient. 0 if none.",
    )
    vacuum_valve = forms.BooleanField(
        label="Vacuum valve fitted",
        required=False,
        initial=True,
        help_text="It is lifted by hand before a hot or caustic step.",
    )
    least_level = forms.TypedChoiceField(
        label="Minimum clean",
        choices=CleanLevel.choices,
        coerce=int,
        initial=CleanLevel.ORDINARY,
    )
    culture_use = forms.ChoiceField(
        label="Beers for it",
        choices=CultureUse.choices,
        initial=CultureUse.EITHER,
        help_text="Mixed-culture gear, hoses and seals of its own keep the cultures apart.",
    )
    default_regime = RegimeChoice(
        label="Preferred regime", help_text="Optional. Used where several regimes fit."
    )
    acid_every_n = CountField(
        label="Acid at least every",
        low=1,
        high=1000,
        initial=5,
        help_text="Against beerstone, where caustic is the rule.",
    )
    caustic_every_n = CountField(
        label="Caustic at least every",
        low=1,
        high=1000,
        initial=10,
        help_text="Where acid alone is the rule.",
    )
    clean_within_days = CountField(
        label="Clean within",
        low=1,
        high=LONGEST_DAYS,
        required=False,
        help_text="Optional. A draught line that has no days of its own: 14.",
    )
    acid_within_days = CountField(
        label="Acid within",
        low=1,
        high=LONGEST_DAYS,
        required=False,
        help_text="Optional. A draught line that has no days of its own: 91.",
    )
    order = CountField(
        label="Order on the board",
        low=0,
        high=9999,
        initial=0,
        help_text="The smallest number comes first. Equal numbers are sorted by name.",
    )
    note = forms.CharField(
        required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, brewery: Brewery, vessel: Vessel | None = None, **kwargs: Any):
        super().__init__(*args, **kwargs)
        if vessel is not None:
            self.fields["password"] = password_field(
                "Your password",
                known=True,
                required=False,
                help_text="Only to change the kind, a material, the spray device, the vacuum "
                "valve, the minimum clean, the beers for it or days between cleans. Checks and "
                "due dates depend on them.",
            )
        units = {
            "volume_hl": brewery.volume_unit,
            "diameter_m": length_unit(brewery),
            "solution_l": brewery.solution_unit,
        }
        for name, unit in units.items():
            field = self.fields[name]
            assert isinstance(field, StoredQuantityField)
            field.show_in(unit, kept=getattr(vessel, name, None))


class ReasonForm(ActionForm):
    reason = forms.CharField(max_length=200, error_messages={"required": "Enter a reason."})
