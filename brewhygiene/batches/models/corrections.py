"""What a batch, a lot, a movement or a shipment was recorded as before it was corrected."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.holds import Hold
from brewhygiene.batches.models.lots import Lot, Shipment
from brewhygiene.batches.models.movements import Movement
from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import Signature
from brewhygiene.turnarounds.models import Turnaround


class BrewCorrection(Evidence):
    """A mistyped number or volume put in order. The batch or the lot has the current one."""

    batch = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="corrections"
    )
    lot = models.ForeignKey(
        Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="corrections"
    )
    was_number = models.CharField(max_length=40)
    is_number = models.CharField(max_length=40)
    was_units = models.PositiveIntegerField(null=True, blank=True, help_text="Of a lot.")
    is_units = models.PositiveIntegerField(null=True, blank=True)
    was_unit_l = models.FloatField(null=True, blank=True, help_text="L in each unit of a lot.")
    is_unit_l = models.FloatField(null=True, blank=True)
    reason = models.CharField(max_length=200)
    corrected_at = models.DateTimeField()
    corrected_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="brew_correction_has_reason"),
            models.CheckConstraint(
                condition=Q(batch__isnull=False, lot__isnull=True)
                | Q(batch__isnull=True, lot__isnull=False),
                name="brew_correction_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.was_number} corrected to {self.is_number}"


class SignedCorrection(Evidence):
    """What something was recorded as, and as what it stands since. It has the latter itself."""

    was = models.JSONField(help_text="As it was recorded, by name.")
    became = models.JSONField(help_text="The same, as corrected.")
    reason = models.CharField(max_length=200)
    corrected_at = models.DateTimeField()
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True

    @property
    def changed(self) -> list[tuple[str, object, object]]:
        """What differs, by name: as it was, and as it is."""
        return [
            (name, was, self.became.get(name))
            for name, was in self.was.items()
            if was != self.became.get(name)
        ]


class MovementCorrection(SignedCorrection):
    """A movement put in order: where from, where to, of which batch, how much, when."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="corrections")
    was_batch = models.ForeignKey(
        Batch,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="moved_away",
        help_text="Which batch the vessel was recorded as filled with, where that was wrong.",
    )
    was_turnaround = models.ForeignKey(
        Turnaround,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="fillings_moved_away",
        help_text="Which turnaround it was recorded to close, where another vessel was filled.",
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="movement_correction_has_reason")
        ]

    def __str__(self) -> str:
        return f"Correction of {self.movement}"


class ShipmentCorrection(SignedCorrection):
    """A shipment put in order: of which lot, to whom, how many, when."""

    shipment = models.ForeignKey(Shipment, on_delete=models.PROTECT, related_name="corrections")
    was_lot = models.ForeignKey(
        Lot,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="shipped_away",
        help_text="Which lot it was recorded of, where that was wrong.",
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="shipment_correction_has_reason")
        ]

    def __str__(self) -> str:
        return f"Correction of {self.shipment}"


class HoldNote(Evidence):
    """Why a batch or a crop is still held that a correction has taken out of reach."""

    hold = models.ForeignKey(Hold, on_delete=models.PROTECT, related_name="notes")
    correction = models.ForeignKey(
        MovementCorrection, on_delete=models.PROTECT, related_name="notes"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["hold", "correction"], name="one_note_a_correction")
        ]

    def __str__(self) -> str:
        return f"{self.hold}: {self.correction.reason}"
