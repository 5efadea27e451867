"""Lots, the customers that they went to, and drills of a recall."""

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from brewhygiene.batches.models.batches import KEY_LENGTH, Batch
from brewhygiene.ledger.places import Evidence, SetUp
from brewhygiene.quantities.sorting import SortKeyField


class Lot(Evidence):
    """What was packaged of a batch in one run: so many units of one size."""

    may_change = frozenset(
        {"number", "number_key", "units", "unit_l", "batch", "packaged_at"}  # by corrections
    )

    number = models.CharField(max_length=40)
    number_key = models.CharField(max_length=KEY_LENGTH, unique=True)
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="lots")
    container = models.CharField(max_length=60, help_text="E.g. keg, 30 L.")
    unit_l = models.FloatField(validators=[MinValueValidator(0.01)], help_text="L in each unit.")
    units = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    packaged_at = models.DateTimeField()
    best_before = models.DateField(null=True, blank=True)
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-packaged_at", "-id"]
        indexes = [models.Index(fields=["-packaged_at"], name="lot_by_time")]
        constraints = [
            models.CheckConstraint(condition=Q(units__gte=1, unit_l__gt=0), name="lot_has_units")
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def volume_hl(self) -> float:
        """What is in all its units, hL."""
        return self.units * self.unit_l / 100


class Customer(SetUp):
    """A business that lots are shipped to."""

    unbound = frozenset({"sort_key"})

    name = models.CharField(max_length=120)
    sort_key = SortKeyField()
    name_key = models.CharField(max_length=360, unique=True)
    address = models.CharField(max_length=200)

    class Meta:
        ordering = ["sort_key"]

    def __str__(self) -> str:
        return self.name


class Shipment(Evidence):
    """Units of a lot that went to a customer."""

    # As it is corrected: what it was before stays with the correction.
    may_change = frozenset({"lot", "customer", "units", "shipped_on", "document"})

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="shipments")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="shipments")
    units = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    shipped_on = models.DateField()
    document = models.CharField(max_length=60, blank=True, help_text="E.g. the delivery note.")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["shipped_on", "id"]
        constraints = [models.CheckConstraint(condition=Q(units__gte=1), name="shipment_has_units")]

    def __str__(self) -> str:
        return f"{self.units} of {self.lot} to {self.customer}"


class RecallDrill(Evidence):
    """A recall played through: from a lot to its customers and back, timed by the server."""

    set_once = frozenset({"ended_at", "ended_by", "in_stock", "lost", "explanation", "found"})

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="drills")
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    in_stock = models.PositiveIntegerField(null=True, blank=True, help_text="Units counted.")
    lost = models.PositiveIntegerField(null=True, blank=True, help_text="Units broken or dumped.")
    explanation = models.TextField(blank=True, help_text="Where the difference comes from.")
    found = models.JSONField(
        null=True, blank=True, help_text="Both directions as they were found, and the volumes."
    )

    class Meta:
        ordering = ["-started_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["lot"], condition=Q(ended_at__isnull=True), name="one_open_drill_a_lot"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True)
                | Q(in_stock__isnull=False, lost__isnull=False, ended_by__isnull=False),
                name="ended_drill_is_counted",
            ),
        ]

    def __str__(self) -> str:
        return f"Recall drill of {self.lot}"
