"""Microbiological follow-up: samples sent to be grown, due, read."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.turnarounds.models import Turnaround


class PlateState(models.TextChoices):
    PENDING = "pending", "pending"
    NEGATIVE = "negative", "negative"
    POSITIVE = "positive", "positive"


class Plate(models.Model):
    """A sample sent to be grown, and what grew."""

    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="plates")
    turnaround = models.ForeignKey(Turnaround, on_delete=models.PROTECT, related_name="plates")
    point = models.ForeignKey(SamplingPoint, on_delete=models.PROTECT, related_name="plates")
    medium = models.CharField(max_length=60)
    incubation_c = models.FloatField(
        validators=[MinValueValidator(4), MaxValueValidator(60)], default=28
    )
    incubation_days = models.PositiveSmallIntegerField(
        default=7, validators=[MinValueValidator(1), MaxValueValidator(30)]
    )
    taken_at = models.DateTimeField()
    due_on = models.DateField()
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    state = models.CharField(max_length=10, choices=PlateState.choices, default=PlateState.PENDING)
    colonies = models.PositiveIntegerField(null=True, blank=True)
    organism = models.CharField(max_length=100, blank=True)
    read_at = models.DateTimeField(null=True, blank=True)
    read_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    resolved_at = models.DateTimeField(null=True, blank=True)
    resolution = models.TextField(blank=True)
    resolution_signature = models.OneToOneField(
        "brewhygiene.Signature", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["due_on", "id"]
        indexes = [
            models.Index(
                fields=["vessel"],
                condition=Q(state="positive", resolved_at__isnull=True),
                name="plate_open_positive",
            ),
            models.Index(fields=["due_on"], condition=Q(state="pending"), name="plate_pending"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="pending") | Q(read_at__isnull=False), name="read_plate_has_time"
            ),
            models.CheckConstraint(
                condition=Q(resolved_at__isnull=True)
                | (~Q(resolution="") & Q(resolution_signature__isnull=False)),
                name="resolved_plate_is_signed",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.point}, {self.medium}"

    @property
    def open_positive(self) -> bool:
        return self.state == PlateState.POSITIVE and self.resolved_at is None
