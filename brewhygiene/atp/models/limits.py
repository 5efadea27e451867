"""Alert levels and action limits."""

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from brewhygiene.atp.models.baselines import Baseline
from brewhygiene.atp.models.bridges import Bridge
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.cellar.models import SampleKind, SamplingPoint, VesselKind
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.ledger.places import Evidence


class LimitSource(models.TextChoices):
    MAKER = "maker", "the maker's figure"
    BASELINE = "baseline", "own baseline"
    BRIDGE = "bridge", "bridge study"


class LimitSet(Evidence):
    """Alert level and action limit of one meter with one ATP test.

    For one sampling point, for the points of one kind of vessel, or for all points.
    """

    set_once = frozenset({"approved_at", "approval", "retired_at"})

    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="limits")
    atp_test = models.ForeignKey(AtpTest, on_delete=models.PROTECT, related_name="limits")
    sample_kind = models.CharField(max_length=10, choices=SampleKind.choices)
    point = models.ForeignKey(
        SamplingPoint, null=True, blank=True, on_delete=models.PROTECT, related_name="limits"
    )
    moment = models.CharField(
        max_length=20,
        choices=SamplingMoment.choices,
        default=SamplingMoment.UNKNOWN,
        help_text="The moment of the readings that it judges; of any, where it is not known.",
    )
    vessel_kind = models.CharField(
        max_length=20,
        choices=VesselKind.choices,
        blank=True,
        default="",
        help_text="Blank if they are for one point, or for every kind of vessel.",
    )
    alert_rlu = models.PositiveIntegerField()
    action_rlu = models.PositiveIntegerField()
    source = models.CharField(max_length=10, choices=LimitSource.choices)
    source_note = models.CharField(max_length=200)
    proposed_at = models.DateTimeField()
    proposed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    approved_at = models.DateTimeField(null=True, blank=True)
    approval = models.OneToOneField(
        "brewhygiene.Signature", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    review_on = models.DateField()
    valid_until = models.DateField(
        null=True,
        blank=True,
        help_text="If blank, valid until replaced or retired.",
    )
    baseline = models.ForeignKey(
        Baseline, null=True, blank=True, on_delete=models.PROTECT, related_name="limits"
    )
    bridge = models.ForeignKey(
        Bridge, null=True, blank=True, on_delete=models.PROTECT, related_name="limits"
    )
    figures = models.JSONField(
        null=True, blank=True, help_text="The method and its figures as they stood when proposed."
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["meter", "sample_kind", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(alert_rlu__lte=F("action_rlu")), name="alert_not_above_action"
            ),
            models.CheckConstraint(
                condition=Q(approved_at__isnull=True) | Q(approval__isnull=False),
                name="approved_limits_are_signed",
            ),
            models.UniqueConstraint(
                fields=["meter", "atp_test", "sample_kind", "point", "moment"],
                condition=Q(approved_at__isnull=False, retired_at__isnull=True),
                name="one_set_in_force_per_point",
            ),
            models.UniqueConstraint(
                fields=["meter", "atp_test", "sample_kind", "vessel_kind", "moment"],
                condition=Q(approved_at__isnull=False, retired_at__isnull=True, point__isnull=True),
                name="one_set_in_force_for_all_points",
            ),
            models.CheckConstraint(
                condition=Q(point__isnull=True) | Q(vessel_kind=""),
                name="limits_for_point_or_kind",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.meter.name}, {self.atp_test.name}: {self.alert_rlu}/{self.action_rlu} RLU"

    @property
    def where(self) -> str:
        """Which points they are for, as 'every rinse point of a fermenter'."""
        if self.point is not None:
            return str(self.point)
        of_kind = f" of a {self.get_vessel_kind_display()}" if self.vessel_kind else ""
        return f"every {self.get_sample_kind_display()} point{of_kind}"

    def run_out_on(self, day: date) -> bool:
        """Whether its last day was before ``day``, by the brewery's calendar."""
        return self.valid_until is not None and self.valid_until < day
