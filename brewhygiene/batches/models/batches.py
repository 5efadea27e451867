"""Batches, what was filled with them, and yeast crops."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from brewhygiene.cellar.models import Beer, Fill, Vessel
from brewhygiene.ledger.places import Evidence
from brewhygiene.plates.models import Plate

# Casefolding may make a letter into three.
KEY_LENGTH = 120


class Batch(Evidence):
    """A beer that was brewed, or blended, under one number."""

    may_change = frozenset({"number", "number_key", "brewed_at", "volume_hl"})

    number = models.CharField(max_length=40)
    number_key = models.CharField(max_length=KEY_LENGTH, unique=True)
    beer = models.ForeignKey(Beer, on_delete=models.PROTECT, related_name="+")
    brewed_at = models.DateTimeField(help_text="When it was brewed, or blended.")
    volume_hl = models.FloatField(validators=[MinValueValidator(0.001)])
    blended = models.BooleanField(default=False)
    before_record = models.BooleanField(
        default=False,
        help_text="It was in a vessel before this record began. When it was brewed is not known.",
    )
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-brewed_at", "-id"]
        verbose_name_plural = "batches"
        indexes = [models.Index(fields=["-brewed_at"], name="batch_by_time")]
        constraints = [
            models.CheckConstraint(
                condition=~Q(number="") & ~Q(number_key=""), name="batch_has_number"
            )
        ]

    def __str__(self) -> str:
        return self.number


class BatchFill(Evidence):
    """Which batch a vessel was filled with. Fills from before have none on record."""

    may_change = frozenset({"batch"})  # as its filling is corrected

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="filled")
    fill = models.OneToOneField(Fill, on_delete=models.PROTECT, related_name="of_batch")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.batch} in {self.fill.vessel}"


class CropSource(models.TextChoices):
    BOUGHT = "bought", "bought"
    CROPPED = "cropped", "cropped from a batch"


class YeastCrop(Evidence):
    """Yeast to be pitched: bought, or cropped from a batch."""

    set_once = frozenset({"plate"})
    may_change = frozenset({"cropped_from"})  # as the filling that it is from is corrected

    number = models.CharField(max_length=40)
    number_key = models.CharField(max_length=KEY_LENGTH, unique=True)
    source = models.CharField(max_length=10, choices=CropSource.choices)
    supplier = models.CharField(max_length=120, blank=True, help_text="Who sold it, and its lot.")
    cropped_from = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="crops"
    )
    generation = models.PositiveSmallIntegerField(validators=[MaxValueValidator(99)])
    viability_pct = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(100)]
    )
    volume_hl = models.FloatField(validators=[MinValueValidator(0.0001)])
    vessel = models.ForeignKey(
        Vessel,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Where it is kept. Blank if that was not recorded.",
    )
    fill = models.OneToOneField(
        Fill, null=True, blank=True, on_delete=models.PROTECT, related_name="crop"
    )
    cropped_at = models.DateTimeField(help_text="When it was cropped, or came.")
    plate = models.ForeignKey(
        Plate, null=True, blank=True, on_delete=models.PROTECT, related_name="crops"
    )
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-cropped_at", "-id"]
        indexes = [models.Index(fields=["-cropped_at"], name="crop_by_time")]
        constraints = [
            models.CheckConstraint(
                condition=Q(source="bought", cropped_from__isnull=True) & ~Q(supplier="")
                | Q(source="cropped", cropped_from__isnull=False),
                name="crop_has_source",
            )
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def volume_l(self) -> float:
        """Its volume in L."""
        return self.volume_hl * 100
