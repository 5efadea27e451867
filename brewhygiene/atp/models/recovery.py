"""Studies of whether a sanitiser dims an ATP test."""

from datetime import date

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.ledger.places import Evidence
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.quantities.style import digits


class RecoveryStudy(Evidence):
    """A known positive read in a sanitiser and in water, with one meter and one ATP test.

    Where it proves that the sanitiser does not dim, readings in it up to that strength need no
    explanation until the study's last day.
    """

    set_once = frozenset({"retired_at"})

    agent = models.ForeignKey(
        "brewhygiene.Agent", on_delete=models.PROTECT, related_name="recovery_studies"
    )
    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="recovery_studies")
    atp_test = models.ForeignKey(AtpTest, on_delete=models.PROTECT, related_name="recovery_studies")
    strength_mg_l = models.FloatField(
        validators=[MinValueValidator(0.1)],
        help_text="Strength of the sanitiser that was studied, mg/L; it holds up to it.",
    )
    water_rlu = models.JSONField(help_text="Readings of the positive in water.")
    sanitiser_rlu = models.JSONField(help_text="Readings of the positive in the sanitiser.")
    water_blank_rlu = models.FloatField(default=0)
    sanitiser_blank_rlu = models.FloatField(default=0)
    source = models.CharField(
        max_length=12, choices=ValueSource.choices, help_text="Where the readings are from."
    )
    ratio = models.FloatField()
    low = models.FloatField(help_text="Lower end of the 90 % interval of the ratio.")
    high = models.FloatField()
    proved = models.BooleanField(help_text="Whether the interval lies inside what is accepted.")
    done_on = models.DateField()
    valid_until = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    signature = models.OneToOneField(
        "brewhygiene.Signature", on_delete=models.PROTECT, related_name="+"
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-done_on", "-id"]
        verbose_name_plural = "recovery studies"
        constraints = [
            models.CheckConstraint(
                condition=Q(done_on__lte=F("valid_until")), name="recovery_study_in_order"
            ),
            models.CheckConstraint(
                condition=Q(low__lte=F("ratio")) & Q(ratio__lte=F("high")),
                name="recovery_within_its_interval",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.agent.name} up to {digits(self.strength_mg_l, 'g')} mg/L, {self.meter.name}"

    def in_force_on(self, day: date) -> bool:
        """Whether it holds on a day of the brewery's calendar."""
        return self.retired_at is None and self.done_on <= day <= self.valid_until
