"""Beer and yeast that were destroyed: why, where it went, and by which signed decision."""

from django.db import models
from django.db.models import Q

from brewhygiene.batches.models.holds import HoldDecision
from brewhygiene.batches.models.movements import Movement
from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import Signature


class DumpReason(models.TextChoices):
    INFECTED = "infected", "infected"
    OFF = "off", "off flavour or look"
    DATE = "date", "after its best-before date"
    FAULT = "fault", "fault of equipment or work"
    SPENT = "spent", "yeast not needed any more"
    REST = "rest", "rest that is not packaged"
    OTHER = "other", "other"


class Went(models.TextChoices):
    DRAIN = "drain", "drain, with consent"
    HAULIER = "haulier", "waste haulier"
    TREATED = "treated", "own waste water treatment"
    FED = "fed", "animal feed"
    RETURNED = "returned", "returned"


class Dump(Evidence):
    """What is to be said of a movement by which beer or yeast was destroyed."""

    may_change = frozenset({"decision"})  # as its movement is corrected

    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="dump")
    why = models.CharField(max_length=10, choices=DumpReason.choices)
    why_note = models.CharField(max_length=400, blank=True)
    went = models.CharField(max_length=10, choices=Went.choices)
    went_note = models.CharField(
        max_length=200, blank=True, help_text="E.g. the consent, or the haulier and the docket."
    )
    decision = models.ForeignKey(
        HoldDecision,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="dumps",
        help_text="What was signed, where it was held.",
    )
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(why="other") | ~Q(why_note=""), name="other_dump_has_words"
            ),
            models.CheckConstraint(
                condition=~Q(went="drain") | ~Q(went_note=""), name="dump_to_drain_has_consent"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_why_display()}, to {self.get_went_display()}"
