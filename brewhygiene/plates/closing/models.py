"""What the closing of a positive plate rests on."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from brewhygiene.ledger.places import Evidence
from brewhygiene.plates.models import Plate
from brewhygiene.turnarounds.models import Clean


class Inspected(models.TextChoices):
    SOUND = "sound", "no fault found"
    REPAIRED = "repaired", "fault found and repaired"


class PlateClosing(Evidence):
    """The re-clean, the inspection and the re-plating after which a plate was closed.

    A plate that was closed before these were asked for has none.
    """

    plate = models.OneToOneField(Plate, on_delete=models.PROTECT, related_name="closing")
    reclean = models.ForeignKey(  # type: ignore[assignment]
        Clean, on_delete=models.PROTECT, related_name="+"
    )
    inspected = models.CharField(max_length=8, choices=Inspected.choices)
    finding = models.TextField(help_text="What was opened, and what was seen.")
    inspected_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    replating = models.ForeignKey(Plate, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(finding=""), name="plate_closing_has_finding")
        ]

    def __str__(self) -> str:
        return f"closing of {self.plate}"
