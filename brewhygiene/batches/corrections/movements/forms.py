"""The form that corrects a movement: what it has, as it stands."""

from typing import Any

from django import forms

from brewhygiene.batches.corrections.forms import WHY
from brewhygiene.batches.corrections.movements.standing import as_it_stands
from brewhygiene.batches.forms import BrewForm, VesselChoice, reason_field, volume_field
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.cellar.models import GONE_THROUGH, Vessel
from brewhygiene.quantities.days import MomentField
from brewhygiene.release.forms import PasswordField

VOLUMES = ("volume_hl", "loss_hl")


class CorrectMovementForm(BrewForm):
    """Volume, time, where from, where to and of which batch, with a reason, signed."""

    revision_seen = forms.IntegerField(widget=forms.HiddenInput)
    vessel = VesselChoice(
        label="From",
        queryset=Vessel.objects.none(),
        empty_label=None,
        error_messages={"required": "Choose a vessel."},
    )
    to_vessel = VesselChoice(
        label="Into",
        queryset=Vessel.objects.none(),
        empty_label=None,
        error_messages={"required": "Choose a vessel."},
    )
    batch = forms.CharField(
        label="Batch",
        max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="Another batch has to be on record already. What came of this filling follows.",
        error_messages={"required": "Enter the batch."},
    )
    volume_hl = volume_field("Volume that arrived")
    loss_hl = volume_field("Loss", required=False)
    loss_reason = reason_field("Where the loss went", required=False)
    moved_at = MomentField(label="When", error_messages={"required": "Enter when it was."})
    reason = reason_field("Reason for the correction", error_messages=WHY)
    password = PasswordField()

    def __init__(self, *args: Any, movement: Movement, **kwargs: Any) -> None:
        stands = as_it_stands(movement)
        kwargs["initial"] = {
            "vessel": stands.vessel,
            "to_vessel": stands.to_vessel,
            "batch": stands.batch,
            "volume_hl": stands.volume_hl,
            "loss_hl": stands.loss_hl,
            "loss_reason": stands.loss_reason,
            "moved_at": stands.moved_at,
        }
        super().__init__(*args, **kwargs)
        for name in VOLUMES:
            # As it came back it is the same, so that nothing drifts.
            self.fields[name].kept = getattr(stands, name)  # type: ignore[attr-defined]
        tanks = Vessel.objects.exclude(kind__in=GONE_THROUGH)
        for name in ("vessel", "to_vessel"):
            field = self.fields[name]
            assert isinstance(field, VesselChoice)
            field.queryset = tanks
        for name in self._without(movement, stands.vessel is not None):
            del self.fields[name]
        if movement.kind == MovementKind.DUMP:
            self.fields["volume_hl"].label = "Volume dumped"

    @staticmethod
    def _without(movement: Movement, has_source: bool) -> list[str]:
        """The fields that a movement of its kind has no use for."""
        without = [] if has_source and movement.from_crop_id is None else ["vessel"]
        if movement.to_fill_id is None:
            without += ["to_vessel", "batch"]
        if movement.kind == MovementKind.PACKAGE:
            without.append("volume_hl")
        if movement.kind not in (MovementKind.TRANSFER, MovementKind.PACKAGE):
            without += ["loss_hl", "loss_reason"]
        return without
