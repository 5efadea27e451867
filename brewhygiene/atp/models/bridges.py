"""Studies of two scales read at the same places."""

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import F, Q

from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.ledger.places import Evidence
from brewhygiene.quantities.sources import ValueSource


class Bridge(Evidence):
    """A study of two scales: the same places read with both, in pairs.

    A scale is a meter with an ATP test. Once approved, the bridge converts readings of one scale
    to the other.
    """

    set_once = frozenset(
        {"log_slope", "log_intercept", "figures", "approved_at", "approval", "retired_at"}
    )

    reference_meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="+")
    reference_atp_test = models.ForeignKey(AtpTest, on_delete=models.PROTECT, related_name="+")
    new_meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="bridges")
    new_atp_test = models.ForeignKey(AtpTest, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    log_slope = models.FloatField(
        null=True, blank=True, help_text="Of log10(RLU+1), new scale on reference scale."
    )
    log_intercept = models.FloatField(null=True, blank=True)
    figures = models.JSONField(null=True, blank=True, help_text="The fit as it was approved.")
    approved_at = models.DateTimeField(null=True, blank=True)
    approval = models.OneToOneField(
        "brewhygiene.Signature", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-opened_at"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(reference_meter=F("new_meter"))
                | ~Q(reference_atp_test=F("new_atp_test")),
                name="bridge_joins_two_scales",
            ),
            models.CheckConstraint(
                condition=Q(approved_at__isnull=True)
                | (
                    Q(approval__isnull=False)
                    & Q(log_slope__isnull=False)
                    & Q(log_intercept__isnull=False)
                ),
                name="approved_bridge_is_signed",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reference_meter.name} to {self.new_meter.name}"

    @property
    def joins_charts(self) -> bool:
        """Whether its line is valid down to 0, where most charted readings lie."""
        return not (self.figures or {}).get("floor_rlu")


class BridgePair(Evidence):
    """One place read with both scales at one time; a side may be missing."""

    may_change = frozenset({"left_out_reason"})

    bridge = models.ForeignKey(Bridge, on_delete=models.PROTECT, related_name="pairs")
    point = models.ForeignKey(
        SamplingPoint, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    reference_rlu = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(MAX_RLU)]
    )
    new_rlu = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(MAX_RLU)]
    )
    source = models.CharField(
        max_length=12,
        choices=ValueSource.choices,
        blank=True,
        help_text="Where the value is from; empty in rows older than this column.",
    )
    taken_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)
    left_out_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(reference_rlu__isnull=False) | Q(new_rlu__isnull=False),
                name="pair_has_a_side",
            )
        ]

    def __str__(self) -> str:
        return f"{self.reference_rlu} and {self.new_rlu} RLU"
