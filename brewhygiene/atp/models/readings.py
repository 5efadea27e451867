"""Readings and their verdicts."""

from typing import Any

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q, QuerySet

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTestLot, ControlCheck, Meter
from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.ledger.places import Evidence
from brewhygiene.quantities.sources import ValueSource, source_words
from brewhygiene.turnarounds.models import Clean, Turnaround


class SampleStage(models.TextChoices):
    """When a sample was said to be taken, before the clean's own record said it."""

    AFTER_RINSE = "after_rinse", "after the last rinse"
    AFTER_SANITISER = "after_sanitiser", "after the sanitiser"


class Verdict(models.TextChoices):
    CLEAR = "clear", "clear"
    ALERT = "alert", "alert"
    ACTION = "action", "action"
    UNJUDGED = "unjudged", "unjudged"


class RinseEnd(models.TextChoices):
    TAP = "tap", "rinse water same as tap water"
    NEUTRAL = "neutral", "rinse pH 6 to 8"
    SANITISER_LEFT = "sanitiser_left", "no-rinse sanitiser drained, not rinsed"
    NOT_CHECKED = "not_checked", "not checked"


_TAKEN = {
    SamplingMoment.BEFORE_SANITISER: "at the last rinse, before the sanitiser",
    SamplingMoment.BEFORE_HEAT: "at the cooled rinse, before heat",
}
# What belongs to one record of a reading and is never taken over by the one that follows it.
OF_ONE_RECORD = frozenset({"id", "client_time", "correction_signature"})


class Result(Evidence):
    """One reading of an ATP test. Never deleted: retests and corrections are kept beside it."""

    turnaround = models.ForeignKey(Turnaround, on_delete=models.PROTECT, related_name="results")
    clean = models.ForeignKey(  # type: ignore[assignment]
        Clean, on_delete=models.PROTECT, related_name="results"
    )
    point = models.ForeignKey(SamplingPoint, on_delete=models.PROTECT, related_name="results")
    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="results")
    test_lot = models.ForeignKey(AtpTestLot, on_delete=models.PROTECT, related_name="results")
    control_check = models.ForeignKey(
        ControlCheck, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    limits = models.ForeignKey(
        LimitSet, null=True, blank=True, on_delete=models.PROTECT, related_name="results"
    )
    rlu = models.PositiveIntegerField(validators=[MaxValueValidator(MAX_RLU)])
    source = models.CharField(
        max_length=12,
        choices=ValueSource.choices,
        blank=True,
        help_text="Where the value is from; empty in rows older than this column.",
    )
    verdict = models.CharField(max_length=10, choices=Verdict.choices)
    moment = models.CharField(
        max_length=20,
        choices=SamplingMoment.choices,
        default=SamplingMoment.UNKNOWN,
        help_text="When it was taken, by the steps of the clean that had ended.",
    )
    stage = models.CharField(
        max_length=20,
        choices=SampleStage.choices,
        blank=True,
        help_text="As it was stated; empty since the moment follows from the steps.",
    )
    rinse_end = models.CharField(max_length=20, choices=RinseEnd.choices)
    taken_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    client_time = models.DateTimeField(null=True, blank=True)
    retest_of = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="retests"
    )
    suspected_slip = models.BooleanField(
        default=False, help_text="A touched tip or similar is suspected. The reading is kept."
    )
    note = models.CharField(max_length=200, blank=True)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    correction_reason = models.CharField(max_length=200, blank=True)
    correction_signature = models.OneToOneField(
        "brewhygiene.Signature", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        indexes = [
            models.Index(fields=["point", "-taken_at"], name="result_by_point"),
            models.Index(fields=["meter", "-taken_at"], name="result_by_meter"),
            models.Index(fields=["-taken_at"], name="result_by_time"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=(Q(verdict="unjudged") & Q(limits__isnull=True))
                | (~Q(verdict="unjudged") & Q(limits__isnull=False)),
                name="no_limits_no_verdict",
            ),
            models.CheckConstraint(
                condition=Q(corrects__isnull=True) | ~Q(correction_reason=""),
                name="result_correction_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.point}: {self.rlu} RLU, {self.verdict}"

    @property
    def moment_words(self) -> str:
        """When it was taken, as 'taken in the sanitiser'; where not known, what was stated."""
        if self.moment == SamplingMoment.UNKNOWN:
            return self.get_stage_display() or "at a moment not known"
        return f"taken {_TAKEN.get(SamplingMoment(self.moment), self.get_moment_display())}"

    @property
    def source_words(self) -> str:
        return source_words(self.source)

    def successor(self, *, correction_reason: str, **changes: Any) -> "Result":
        """A result that corrects this one and is like it in all but ``changes``. Not saved yet."""
        made = Result()
        for field in self._meta.concrete_fields:
            if field.name not in OF_ONE_RECORD:
                setattr(made, field.attname, getattr(self, field.attname))
        for name, value in changes.items():
            setattr(made, name, value)
        made.corrects, made.correction_reason = self, correction_reason
        return made


def standing_results(results: QuerySet[Result]) -> QuerySet[Result]:
    """The results that no correction replaces."""
    return results.filter(corrected_by__isnull=True)
