"""Holds on batches and yeast crops, apart from the vessel's, and what was decided on each."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import Signature
from brewhygiene.plates.models import Plate


class Choice(models.TextChoices):
    HOLD = "hold", "hold"
    SAMPLE = "sample", "sample"
    RELEASE = "release", "release"
    DESTROY = "destroy", "destroy"
    RECALL = "recall", "recall"


OUTCOME_WORDS = {"release": "released", "destroy": "destroyed", "recall": "recalled"}
# These end a hold; the others leave it as it is.
ENDING = frozenset({Choice.RELEASE, Choice.DESTROY, Choice.RECALL})


class Rank(models.IntegerChoices):
    """How near a thing is to the positive plate."""

    BEER = 1, "the beer"
    YEAST = 2, "its yeast"
    NOT_CLEANED = 3, "equipment not cleaned since"
    CLEANED = 4, "equipment cleaned since"


class Hold(Evidence):
    """A batch or a crop that is held; neither for all else that a plate puts at risk.

    Without a plate it was held by hand, with a reason.
    """

    set_once = frozenset({"ended_at", "outcome"})

    plate = models.ForeignKey(
        Plate, null=True, blank=True, on_delete=models.PROTECT, related_name="holds"
    )
    batch = models.ForeignKey(
        Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="holds"
    )
    crop = models.ForeignKey(
        YeastCrop, null=True, blank=True, on_delete=models.PROTECT, related_name="holds"
    )
    rank = models.PositiveSmallIntegerField(choices=Rank.choices, null=True, blank=True)
    reason = models.CharField(max_length=400)
    held_at = models.DateTimeField()
    held_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    outcome = models.CharField(max_length=8, choices=Choice.choices, blank=True)

    class Meta:
        ordering = ["rank", "id"]
        indexes = [
            models.Index(fields=["plate"], condition=Q(ended_at__isnull=True), name="hold_open"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(batch__isnull=True) | Q(crop__isnull=True), name="hold_of_one_thing"
            ),
            models.CheckConstraint(
                condition=Q(plate__isnull=False)
                | ~Q(reason="") & (Q(batch__isnull=False) | Q(crop__isnull=False)),
                name="hold_by_hand_has_reason",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, outcome="")
                | Q(ended_at__isnull=False) & ~Q(outcome=""),
                name="ended_hold_has_outcome",
            ),
            models.UniqueConstraint(
                fields=["plate", "batch"],
                condition=Q(batch__isnull=False),
                name="one_hold_of_a_batch",
            ),
            models.UniqueConstraint(
                fields=["plate", "crop"], condition=Q(crop__isnull=False), name="one_hold_of_a_crop"
            ),
            models.UniqueConstraint(
                fields=["plate"],
                condition=Q(batch__isnull=True, crop__isnull=True),
                name="one_hold_of_the_rest",
            ),
        ]

    def __str__(self) -> str:
        return f"Hold of {self.about}"

    @property
    def state(self) -> str:
        """How it stands, as the code of a status."""
        if self.ended_at is None:
            return "held"
        return "released" if self.outcome == Choice.RELEASE else "out_of_service"

    @property
    def state_words(self) -> str:
        """How it stands, in a word."""
        return OUTCOME_WORDS.get(self.outcome, "held")

    @property
    def about(self) -> str:
        """What is held, in words."""
        if self.batch is not None:
            return f"batch {self.batch.number}"
        if self.crop is not None:
            return f"yeast crop {self.crop.number}"
        return "the equipment and what went through it"


class HoldDecision(Evidence):
    """What was decided on a hold, signed."""

    hold = models.ForeignKey(Hold, on_delete=models.PROTECT, related_name="decisions")
    choice = models.CharField(max_length=8, choices=Choice.choices)
    reason = models.TextField()
    decided_at = models.DateTimeField()
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="+")
    covers = models.JSONField(
        default=list, blank=True, help_text="All that it was about, as it was shown."
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="hold_decision_has_reason")
        ]

    def __str__(self) -> str:
        return f"{self.get_choice_display()}: {self.hold}"
