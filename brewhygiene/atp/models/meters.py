"""Meters, ATP tests with their lots, and control checks."""

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import F, Q

from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.cellar.models import SampleKind
from brewhygiene.ledger.places import Evidence, SetUp
from brewhygiene.quantities.sorting import SortKeyField
from brewhygiene.quantities.sources import ValueSource, source_words


class Meter(SetUp):
    """A luminometer. Its numbers are on a scale of its own."""

    unbound = frozenset({"sort_key"})

    name = models.CharField(max_length=60, unique=True)
    sort_key = SortKeyField()
    serial = models.CharField(max_length=60, unique=True)
    scale_note = models.CharField(
        max_length=200, blank=True, help_text="The meter's scale, as its maker describes it."
    )
    blank_max_rlu = models.PositiveIntegerField(
        default=0, help_text="Maximum of a blank in a control check."
    )
    positive_min_rlu = models.PositiveIntegerField(help_text="Minimum of the positive control.")
    positive_max_rlu = models.PositiveIntegerField(help_text="Maximum of the positive control.")
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["sort_key"]
        constraints = [
            models.CheckConstraint(
                condition=Q(positive_min_rlu__lt=F("positive_max_rlu"))
                & Q(blank_max_rlu__lt=F("positive_min_rlu")),
                name="control_ranges_in_order",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def blank_within(self, rlu: int) -> bool:
        """Whether a blank's reading, in RLU, passes a control check."""
        return rlu <= self.blank_max_rlu

    def positive_within(self, rlu: int) -> bool:
        """Whether a positive control's reading, in RLU, passes a control check."""
        return self.positive_min_rlu <= rlu <= self.positive_max_rlu


# What a sample is taken with, by the kind of its point.
TEST_KINDS = {SampleKind.RINSE: "rinse sampler", SampleKind.SURFACE: "swab"}


class AtpTest(SetUp):
    """A single-use ATP test: a swab or a rinse sampler. Limits belong to a meter with one."""

    unbound = frozenset({"sort_key"})

    name = models.CharField(max_length=60, unique=True)
    sort_key = SortKeyField()
    sample_kind = models.CharField(max_length=10, choices=SampleKind.choices)
    storage = models.CharField(max_length=200, blank=True)
    gtin = models.CharField(
        max_length=14, blank=True, help_text="The product's number in its barcode, 14 digits."
    )

    class Meta:
        ordering = ["sort_key"]
        constraints = [
            models.UniqueConstraint(
                fields=["gtin"], condition=~Q(gtin=""), name="atp_test_gtin_once"
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def kind(self) -> str:
        """*rinse sampler* or *swab*."""
        return TEST_KINDS[SampleKind(self.sample_kind)]


class AtpTestLot(SetUp):
    """A lot of ATP tests with its expiry date."""

    unbound = frozenset({"sort_key"})

    atp_test = models.ForeignKey(AtpTest, on_delete=models.PROTECT, related_name="lots")
    lot = models.CharField(max_length=40)
    sort_key = SortKeyField(source="lot")
    expires_on = models.DateField(help_text="The last day on which a test may be used.")
    received_on = models.DateField(null=True, blank=True)
    storage_note = models.CharField(max_length=200, blank=True)
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["expires_on", "sort_key"]
        constraints = [models.UniqueConstraint(fields=["atp_test", "lot"], name="test_lot_once")]

    def __str__(self) -> str:
        return f"{self.atp_test.name} {self.lot}"


class ControlCheck(Evidence):
    """A meter's blank and positive reading, before its day's use."""

    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="control_checks")
    checked_at = models.DateTimeField()
    checked_on = models.DateField(help_text="By the brewery's calendar.")
    blank_rlu = models.PositiveIntegerField(validators=[MaxValueValidator(MAX_RLU)])
    positive_rlu = models.PositiveIntegerField(validators=[MaxValueValidator(MAX_RLU)])
    source = models.CharField(
        max_length=12,
        choices=ValueSource.choices,
        blank=True,
        help_text="Where the value is from; empty in rows older than this column.",
    )
    passed = models.BooleanField()
    checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-checked_at"]
        indexes = [models.Index(fields=["meter", "-checked_at"], name="control_check_by_meter")]

    def __str__(self) -> str:
        return f"{self.meter.name}: {'passed' if self.passed else 'failed'}"

    @property
    def source_words(self) -> str:
        return source_words(self.source)
