"""What a batch or a lot was recorded as before it was corrected."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.lots import Lot
from brewhygiene.ledger.places import Evidence


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
