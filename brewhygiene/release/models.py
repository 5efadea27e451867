"""Decisions: hold or release, with the gates as they stood."""

from django.db import models
from django.db.models import Q

from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import Signature
from brewhygiene.turnarounds.models import Clean, Turnaround


class Outcome(models.TextChoices):
    HOLD = "hold", "hold"
    RELEASE = "release", "release"


class DecisionKind(models.TextChoices):
    """By which of the brewery's ways a decision was come to."""

    USUAL = "usual", "usual"
    TWO_SIGNERS = "two_signers", "released over the action limit by two people"
    WITHOUT_METER = "without_meter", "released without a working meter"


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
    kind = models.CharField(max_length=14, choices=DecisionKind.choices, default=DecisionKind.USUAL)
    second_signature = models.OneToOneField(
        Signature, null=True, blank=True, on_delete=models.PROTECT, related_name="second_decision"
    )
    explanations = models.JSONField(
        default=dict,
        blank=True,
        help_text="Cause, what was checked and the result, by check; and where the same words "
        "were signed before.",
    )
    without_meter = models.JSONField(
        default=dict, blank=True, help_text="What stood in for the readings of a dead meter."
    )
    rules = models.JSONField(
        default=list, blank=True, help_text="The release rules in force, in words."
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
            models.CheckConstraint(
                condition=(Q(kind="usual") & Q(second_signature__isnull=True))
                | (~Q(kind="usual") & Q(second_signature__isnull=False) & Q(outcome="release")),
                name="decision_of_two_has_two_signatures",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_outcome_display()}: {self.turnaround}"

    @property
    def marks(self) -> list[str]:
        """What sets this decision apart from the usual one, in words, wherever it is shown."""
        marks = []
        if self.self_release:
            marks.append("Self-release: the person who signed also worked on the clean")
        if self.second_signature is not None:
            kind = str(DecisionKind(self.kind).label).capitalize()
            marks.append(f"{kind}, second signature {self.second_signature.printed_name}")
        if any(given["same_as"] for given in self.explanations.values()):
            marks.append("Signed with the same words as an earlier decision")
        return marks
