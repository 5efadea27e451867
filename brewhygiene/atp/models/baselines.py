"""Readings of clean vessels that limits are set from."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.cellar.models import SamplingPoint, VesselKind
from brewhygiene.ledger.places import Evidence


class Baseline(Evidence):
    """Readings of clean vessels, from which limits are calculated.

    Which results belong to it follows from its choice and its exclusions; nothing is copied.
    """

    name = models.CharField(max_length=80, unique=True)
    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="baselines")
    atp_test = models.ForeignKey(AtpTest, on_delete=models.PROTECT, related_name="baselines")
    points = models.ManyToManyField(
        SamplingPoint,
        blank=True,
        related_name="baselines",
        help_text="If blank, all points, or all of the kind of vessel.",
    )
    vessel_kind = models.CharField(
        max_length=20,
        choices=VesselKind.choices,
        blank=True,
        default="",
        help_text="Every point of this kind of vessel; blank where points are chosen, or all.",
    )
    regimes = models.ManyToManyField(
        "brewhygiene.Regime",
        blank=True,
        related_name="+",
        help_text="Only after cleans by these. If blank, any regime.",
    )
    since = models.DateField()
    until = models.DateField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-made_at"]
        constraints = [
            models.CheckConstraint(condition=Q(since__lte=F("until")), name="baseline_in_order")
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def where(self) -> str:
        """Which points it is of where none are chosen, as 'every rinse point of a fermenter'."""
        of_kind = f" of a {self.get_vessel_kind_display()}" if self.vessel_kind else ""
        return f"every {self.atp_test.get_sample_kind_display()} point{of_kind}"


class BaselineExclusion(Evidence):
    """A reading excluded from a baseline, and why. The reading itself is unchanged."""

    set_once = frozenset({"readmitted_at", "readmitted_by"})

    baseline = models.ForeignKey(Baseline, on_delete=models.PROTECT, related_name="exclusions")
    result = models.ForeignKey("Result", on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200)
    excluded_at = models.DateTimeField()
    excluded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    readmitted_at = models.DateTimeField(null=True, blank=True)
    readmitted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["baseline", "result"],
                condition=Q(readmitted_at__isnull=True),
                name="result_excluded_once",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="exclusion_has_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.baseline}: without {self.result}"
