"""Restarts of a sampling point's control chart."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.ledger.places import Evidence


class ChartPhase(Evidence):
    """A restart of a point's control chart, and which readings set its limits.

    A chart without one begins with the first reading of its scale. Work on a part and an
    approved set of limits from a baseline begin a phase by themselves.
    """

    point = models.ForeignKey(SamplingPoint, on_delete=models.PROTECT, related_name="chart_phases")
    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="+")
    atp_test = models.ForeignKey(AtpTest, on_delete=models.PROTECT, related_name="+")
    begins_at = models.DateTimeField()
    baseline_until = models.DateTimeField(
        help_text="Centre and spread come from the readings between begins_at and here."
    )
    reason = models.CharField(max_length=200)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["begins_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(begins_at__lt=F("baseline_until")), name="phase_in_order"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="phase_has_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.point}: {self.reason}"
