"""Regime versions validated against an allergen, and the tests after the cleans that used them."""

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from brewhygiene.cellar.allergens import Allergen
from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import Signature
from brewhygiene.quantities.sources import ValueSource, source_words
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.turnarounds.models import Clean


class Validation(Evidence):
    """A regime version that was shown to take an allergen away, signed by the head brewer."""

    set_once = frozenset({"retired_at", "retired_reason", "retirement"})

    version = models.ForeignKey(RegimeVersion, on_delete=models.PROTECT, related_name="validations")
    allergen = models.CharField(max_length=12, choices=Allergen.choices)
    validated_on = models.DateField(help_text="The day of the report.")
    report = models.CharField(max_length=120, help_text="Where the report is to be found.")
    tests = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1)], help_text="How many tests it rests on, all negative."
    )
    signed_at = models.DateTimeField()
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="+")
    retired_at = models.DateTimeField(null=True, blank=True)
    retired_reason = models.CharField(max_length=400, blank=True)
    retirement = models.OneToOneField(
        Signature, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-signed_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["version", "allergen"],
                condition=Q(retired_at__isnull=True),
                name="one_standing_validation",
            ),
            models.CheckConstraint(condition=~Q(report=""), name="validation_has_report"),
            models.CheckConstraint(
                condition=Q(retired_at__isnull=True, retired_reason="", retirement__isnull=True)
                | Q(retired_at__isnull=False, retirement__isnull=False) & ~Q(retired_reason=""),
                name="retirement_is_signed",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.version} against {self.get_allergen_display()}"


class HowTested(models.TextChoices):
    """How an allergen is looked for. An ATP or a protein test is of no allergen."""

    STRIP = "strip", "strip test, read here"
    ELISA_KIT = "elisa_kit", "ELISA kit, read here"
    LABORATORY = "laboratory", "laboratory, report read here"


class Finding(models.TextChoices):
    """What an allergen test showed."""

    NEGATIVE = "negative", "negative"
    POSITIVE = "positive", "positive"


class AllergenTest(Evidence):
    """A test for one allergen after a clean, as it was read."""

    clean = models.ForeignKey(Clean, on_delete=models.PROTECT, related_name="allergen_tests")  # type: ignore[assignment]
    allergen = models.CharField(max_length=12, choices=Allergen.choices)
    kind = models.CharField(max_length=12, choices=HowTested.choices)
    lot = models.CharField(max_length=40)
    expires_on = models.DateField()
    result = models.CharField(max_length=8, choices=Finding.choices)
    source = models.CharField(max_length=12, choices=ValueSource.choices)
    taken_at = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(lot=""), name="allergen_test_has_lot"),
        ]

    def __str__(self) -> str:
        return f"{self.get_allergen_display()}: {self.get_result_display()}"

    @property
    def words(self) -> str:
        """As 'strip test, read here, lot A1, in date until 2026-05-01: negative (read)'."""
        return (
            f"{self.get_kind_display()}, lot {self.lot}, in date until {self.expires_on}: "
            f"{self.get_result_display()} ({source_words(self.source)})"
        )
