"""Set-up forms of skids, hoses and solution tanks."""

from typing import Any

from django import forms

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.materials import SEAL_MATERIALS, WALL_MATERIALS, Material
from brewhygiene.people.forms import ConfirmedForm
from brewhygiene.quantities.fields import CountField, NumberField, StoredQuantityField
from brewhygiene.skids.gear.actions import SkidValues, TankValues
from brewhygiene.skids.models import Skid, SkidKind, SolutionTank

COMMON = "Common practice, no source."


class SkidForm(ConfirmedForm):
    """What a skid or a cleaning hose is."""

    name = forms.CharField(max_length=40, help_text="As written on it, e.g. Skid 1.")
    kind = forms.ChoiceField(choices=SkidKind.choices)
    material = forms.ChoiceField(choices=WALL_MATERIALS, initial=Material.STAINLESS_304)
    seal_material = forms.ChoiceField(
        label="Seals", choices=SEAL_MATERIALS, initial=Material.UNKNOWN
    )
    volume_hl = StoredQuantityField(
        label="Volume of the circuit",
        stored="hL",
        low=0.001,
        high=1000,
        required=False,
        help_text="Optional. Without tanks.",
    )
    active = forms.BooleanField(label="In use", required=False, initial=True)
    note = forms.CharField(max_length=200, required=False, help_text="Optional.")

    def __init__(
        self, *args: Any, brewery: Brewery, skid: Skid | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["volume_hl"]
        assert isinstance(field, StoredQuantityField)
        field.show_in(brewery.volume_unit, kept=skid.volume_hl if skid is not None else None)

    def values(self) -> SkidValues:
        given = self.given
        return SkidValues(**{name: given[name] for name in SkidValues.__dataclass_fields__})


class TankForm(ConfirmedForm):
    """What a solution tank is, and when its solution is dumped."""

    name = forms.CharField(max_length=40, help_text="As written on it, e.g. Caustic tank 1.")
    material = forms.ChoiceField(choices=WALL_MATERIALS, initial=Material.STAINLESS_304)
    volume_hl = StoredQuantityField(label="Usual volume", stored="hL", low=0.001, high=1000)
    most_uses = CountField(
        label="Most uses",
        low=1,
        high=1000,
        required=False,
        help_text="Optional. If blank, uses are only counted.",
    )
    most_days = CountField(
        label="Most days since it was made up",
        low=1,
        high=1000,
        required=False,
        help_text="Optional. If blank, days are only counted.",
    )
    most_carbonate_percent = NumberField(
        label="Most carbonate",
        unit="% of the alkalinity",
        low=1,
        high=100,
        required=False,
        help_text="Optional, for caustic. About half is common practice, no source.",
    )
    dump_soiled = forms.BooleanField(
        label="Dump once soil is seen in it", required=False, initial=True
    )
    may_explain = forms.BooleanField(
        label="Past its rule a step may use it with a reason",
        required=False,
        help_text="If off, the step is refused.",
    )
    rule_source = forms.CharField(
        label="Source of the rule",
        max_length=200,
        initial=COMMON,
        error_messages={"required": "Enter where the dump rule is from."},
    )
    active = forms.BooleanField(label="In use", required=False, initial=True)

    def __init__(
        self, *args: Any, brewery: Brewery, tank: SolutionTank | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["volume_hl"]
        assert isinstance(field, StoredQuantityField)
        field.show_in(brewery.volume_unit, kept=tank.volume_hl if tank is not None else None)

    def values(self) -> TankValues:
        given = self.given
        return TankValues(**{name: given[name] for name in TankValues.__dataclass_fields__})
