"""The form of a transfer."""

from typing import Any

from django import forms

from brewhygiene.batches.forms import BrewForm, VesselChoice, reason_field, volume_field
from brewhygiene.batches.transfers.actions import Drawn
from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.days import MomentField
from brewhygiene.release.forms import ThroughField


def loss_field() -> Any:
    return volume_field(
        "Loss", required=False, help_text="Optional. If blank, nothing was lost on the way."
    )


class TransferForm(BrewForm):
    """Where beer went, how much of it arrived, through what, and what was lost."""

    to_vessel = VesselChoice(
        label="To",
        queryset=Vessel.objects.none(),
        empty_label="Choose",
        error_messages={"required": "Choose a vessel."},
    )
    volume_hl = volume_field("Volume that arrived", pad=True)
    empties = forms.BooleanField(required=False)
    through = ThroughField()
    loss_hl = loss_field()
    loss_reason = reason_field("Where the loss went", required=False)
    vessel_2 = VesselChoice(
        label="Also from", queryset=Vessel.objects.none(), required=False, empty_label="Choose"
    )
    volume_hl_2 = volume_field("Volume that arrived from it", required=False)
    loss_hl_2 = loss_field()
    loss_reason_2 = reason_field("Where that loss went", required=False)
    empties_2 = forms.BooleanField(label="That vessel is empty now", required=False)
    batch = forms.CharField(
        label="Batch number of the blend",
        max_length=40,
        required=False,
        help_text="Optional. If blank, the batch keeps its number.",
    )
    moved_at = MomentField(label="Transferred at", required=False, initial=None)
    folded = {
        "Hoses, heat exchanger, filler": ("through",),
        "Loss": ("loss_hl", "loss_reason"),
        "Blend with another vessel": (
            "vessel_2",
            "volume_hl_2",
            "loss_hl_2",
            "loss_reason_2",
            "empties_2",
            "batch",
        ),
        "Transferred earlier than now": ("moved_at",),
    }

    def __init__(
        self,
        *args: Any,
        vessel: Vessel,
        targets: Any,
        notes: dict[int, str],
        others: Any,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.vessel = vessel
        self.fields["empties"].label = f"{vessel.name} is empty now"
        for name, vessels in (("to_vessel", targets), ("vessel_2", others)):
            field = self.fields[name]
            assert isinstance(field, VesselChoice)
            field.queryset, field.notes = vessels, notes

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("vessel_2") and data.get("volume_hl_2") is None:
            self.add_error("volume_hl_2", "Enter the volume.")
        if data.get("volume_hl_2") is not None and not data.get("vessel_2"):
            self.add_error("vessel_2", "Choose a vessel.")
        return data

    def sources(self) -> list[Drawn]:
        """What was drawn from each vessel."""
        found = []
        for vessel, suffix in ((self.vessel, ""), (self.cleaned_data["vessel_2"], "_2")):
            if vessel is not None:
                found.append(
                    Drawn(
                        vessel=vessel,
                        volume_hl=self.cleaned_data[f"volume_hl{suffix}"],
                        loss_hl=self.cleaned_data[f"loss_hl{suffix}"] or 0,
                        loss_reason=self.cleaned_data[f"loss_reason{suffix}"],
                        empties=self.cleaned_data[f"empties{suffix}"],
                        suffix=suffix,
                    )
                )
        return found
