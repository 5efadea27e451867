"""A running step whose flow was lost, and when it came back."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from brewhygiene.ledger.places import Evidence
from brewhygiene.turnarounds.models import StepRecord


class FlowLoss(Evidence):
    """The flow of a running step lost, as tapped; contact time pauses until it is back."""

    set_once = frozenset({"back_at", "back_by"})

    record = models.ForeignKey(StepRecord, on_delete=models.PROTECT, related_name="flow_losses")
    lost_at = models.DateTimeField()
    lost_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    back_at = models.DateTimeField(null=True, blank=True)
    back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["record"], condition=Q(back_at__isnull=True), name="one_open_loss_of_flow"
            ),
            models.CheckConstraint(
                condition=Q(back_at__isnull=True) | Q(back_at__gte=F("lost_at")),
                name="flow_back_after_lost",
            ),
        ]

    def __str__(self) -> str:
        return f"flow lost in {self.record}"
