"""Microbiological follow-up: samples sent to be grown, due, read."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.ledger.places import Evidence
from brewhygiene.plates.neutralisers import Neutraliser
from brewhygiene.quantities.sources import ValueSource, source_words
from brewhygiene.quantities.style import digits
from brewhygiene.quantities.words import counted
from brewhygiene.regimes.models import ActiveSubstance
from brewhygiene.turnarounds.models import Turnaround


class PlateState(models.TextChoices):
    PENDING = "pending", "pending"
    NEGATIVE = "negative", "negative"
    POSITIVE = "positive", "positive"


def colony_words(state: str, colonies: int | None) -> str:
    """What was seen: nothing, a number of colonies, or too many of them."""
    if state == PlateState.NEGATIVE:
        return "nothing grew"
    if state == PlateState.POSITIVE and colonies is None:
        return "too many colonies to count"
    return counted(colonies or 0, "colony", "colonies")


class Plate(Evidence):
    """A sample sent to be grown, and what grew."""

    set_once = frozenset({"resolved_at", "resolution", "resolution_signature"})
    may_change = frozenset({"state", "colonies", "source", "organism", "read_at", "read_by"})

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
    suspension_ml = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0.1), MaxValueValidator(10_000)],
        help_text="Swabs only: suspension volume in mL. Counts are per mL of it.",
    )
    area_cm2 = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(10_000)],
        help_text="Swabs only: the swabbed area.",
    )
    taken_in = models.CharField(
        max_length=12,
        choices=ActiveSubstance.choices,
        blank=True,
        help_text="The sanitiser that the record says was in the vessel; empty for none.",
    )
    neutraliser = models.CharField(
        max_length=12,
        choices=Neutraliser.choices,
        blank=True,
        help_text="Put to the sample against its sanitiser; empty in rows older than this column.",
    )
    neutralised = models.BooleanField(
        default=True,
        help_text="Whether its neutraliser fits the sanitiser. Without, no growth says nothing.",
    )
    taken_at = models.DateTimeField()
    due_on = models.DateField()
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    state = models.CharField(max_length=10, choices=PlateState.choices, default=PlateState.PENDING)
    colonies = models.PositiveIntegerField(null=True, blank=True)
    source = models.CharField(
        max_length=12,
        choices=ValueSource.choices,
        blank=True,
        help_text="Where the value is from; empty until it is read, and in older rows.",
    )
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
            models.Index(fields=["-taken_at"], name="plate_by_time"),
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

    @property
    def not_known(self) -> str:
        """Why no growth would say nothing, as 'not known: no neutraliser for quaternary ...'."""
        if self.neutralised:
            return ""
        return f"not known: no neutraliser for {ActiveSubstance(self.taken_in).label}"

    @property
    def clean_negative(self) -> bool:
        """Whether it shows that nothing lived: read negative, and its sanitiser stopped."""
        return self.state == PlateState.NEGATIVE and self.neutralised

    @property
    def neutraliser_words(self) -> str:
        """As 'sodium thiosulfate, taken in peracetic acid'; '' in rows older than the column."""
        if not self.neutraliser:
            return ""
        inside = f"taken in {self.get_taken_in_display()}" if self.taken_in else "no sanitiser left"
        return f"{self.get_neutraliser_display()}, {inside}"

    @property
    def colony_words(self) -> str:
        """Its colonies in words; a positive plate without a number had too many."""
        return colony_words(self.state, self.colonies)

    @property
    def source_words(self) -> str:
        return source_words(self.source)


class PlateCorrection(Evidence):
    """An earlier reading of a plate. The plate itself has the current one."""

    plate = models.ForeignKey(Plate, on_delete=models.PROTECT, related_name="corrections")
    was_state = models.CharField(max_length=10, choices=PlateState.choices)
    was_colonies = models.PositiveIntegerField(null=True, blank=True)
    was_source = models.CharField(max_length=12, choices=ValueSource.choices, blank=True)
    was_organism = models.CharField(max_length=100, blank=True)
    was_read_at = models.DateTimeField()
    was_read_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    is_state = models.CharField(max_length=10, choices=PlateState.choices)
    is_colonies = models.PositiveIntegerField(null=True, blank=True)
    source = models.CharField(
        max_length=12,
        choices=ValueSource.choices,
        blank=True,
        help_text="Where the new value is from; empty in rows older than this column.",
    )
    reason = models.CharField(max_length=200)
    signature = models.OneToOneField(
        "brewhygiene.Signature", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    corrected_at = models.DateTimeField()
    corrected_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="plate_correction_has_reason"),
            models.CheckConstraint(
                condition=~Q(was_state="positive")
                | ~Q(is_state="negative")
                | Q(signature__isnull=False),
                name="positive_made_negative_is_signed",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.plate}: {self.was_state} read again as {self.is_state}"

    @property
    def was_words(self) -> str:
        """What was read first."""
        return colony_words(self.was_state, self.was_colonies)

    @property
    def is_words(self) -> str:
        """What was read instead."""
        return colony_words(self.is_state, self.is_colonies)


class DishCount(Evidence):
    """Colonies on one dish or filter of a plate sample.

    ``dilution`` is how many times the sample was diluted (1, 10, 100 ...), ``volume_ml`` what
    was put on the dish of it. No number of colonies means too many to count.
    """

    set_once = frozenset({"replaced_by"})

    plate = models.ForeignKey(Plate, on_delete=models.PROTECT, related_name="dishes")
    dilution = models.FloatField(validators=[MinValueValidator(1), MaxValueValidator(1e9)])
    volume_ml = models.FloatField(validators=[MinValueValidator(0.001), MaxValueValidator(10_000)])
    colonies = models.PositiveIntegerField(null=True, blank=True)
    source = models.CharField(
        max_length=12,
        choices=ValueSource.choices,
        blank=True,
        help_text="Where the value is from; empty in rows older than this column.",
    )
    replaced_by = models.ForeignKey(
        PlateCorrection,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="dishes_before",
        help_text="The correction that replaced this count.",
    )

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "dish counts"
        constraints = [
            models.CheckConstraint(
                condition=Q(dilution__gte=1) & Q(volume_ml__gt=0), name="dish_amounts_positive"
            )
        ]

    def __str__(self) -> str:
        counted = "too many" if self.colonies is None else str(self.colonies)
        return (
            f"{counted} on {digits(self.volume_ml, '')} mL, diluted {digits(self.dilution, '')} "
            "times"
        )
