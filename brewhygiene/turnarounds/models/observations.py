"""What is seen and smelt at the end of a step, and a photograph of it."""

from django.conf import settings
from django.db import models

from brewhygiene.ledger.places import Evidence
from brewhygiene.turnarounds.models import StepRecord


class Observation(models.TextChoices):
    """What somebody looks for: no instrument reads it. A step keeps its answers in its record."""

    LOOKS_CLEAN = "looks_clean", "looks clean"
    SMELLS_CLEAN = "smells_clean", "smells clean"
    DRAINS_FREE = "drains_free", "drains free"


class StepPhoto(Evidence):
    """A photograph of what was observed at the end of a step; never another one."""

    record = models.ForeignKey(StepRecord, on_delete=models.PROTECT, related_name="photos")
    observation = models.CharField(max_length=12, choices=Observation.choices)
    photo = models.FileField(upload_to="observations/")
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["record", "observation"], name="one_photo_an_observation"
            ),
        ]

    def __str__(self) -> str:
        return f"photo of “{self.get_observation_display()}” in {self.record}"
