"""Decisions: hold or release, with the gates as they stood."""

from django.db import models
from django.db.models import Q

from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import Signature
from brewhygiene.turnarounds.models import Clean, Turnaround


class Outcome(models.TextChoices):
    HOLD = "hold", "hold"
    RELEASE = "release", "release"


class Decision(Evidence):
    """A signed hold or release of one turnaround, after one clean."""

    turnaround = models.ForeignKey(Turnaround, on_delete=models.PROTECT, related_name="decisions")
    clean = models.ForeignKey(  # type: ignore[assignment]
        Clean,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="decisions",
        help_text="The last clean when it was decided.",
    )
    outcome = models.CharField(max_length=8, choices=Outcome.choices)
    decided_at = models.DateTimeField()
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="decision")
    reason = models.TextField(blank=True)
    gates = models.JSONField(help_text="Every gate with its state and evidence, as shown.")
    waivers = models.JSONField(default=dict, blank=True, help_text="Reason by gate waived.")
    lapses_at = models.DateTimeField(null=True, blank=True)
    self_release = models.BooleanField(
        default=False, help_text="Released by someone who also worked on the clean."
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(outcome="hold") | ~Q(reason=""), name="hold_has_reason"
            ),
            models.CheckConstraint(
                condition=~Q(outcome="release")
                | (Q(lapses_at__isnull=False) & Q(clean__isnull=False)),
                name="release_lapses",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_outcome_display()}: {self.turnaround}"
