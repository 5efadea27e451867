"""Vessels put on record once, as they stood when this record began."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import Signature
from brewhygiene.quantities.words import BEFORE_RECORD
from brewhygiene.turnarounds.models import Turnaround


class Stood(models.TextChoices):
    CONTAINS = "contains", "contains beer"
    EMPTY = "empty", "empty, not clean"
    RELEASED = "released", "clean, released on paper"


class VesselStart(Evidence):
    """How a vessel stood when it was put on record. Once a vessel, before its first turnaround."""

    vessel = models.OneToOneField(Vessel, on_delete=models.PROTECT, related_name="start")
    stood = models.CharField(max_length=10, choices=Stood.choices)
    fill = models.OneToOneField(
        Fill,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="start",
        help_text="What it contained.",
    )
    turnaround = models.OneToOneField(
        Turnaround,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="start",
        help_text="The turnaround that it was in, where it contained nothing.",
    )
    released_at = models.DateTimeField(
        null=True, blank=True, help_text="The date and time on the paper."
    )
    paper_signer = models.CharField(
        max_length=120, blank=True, help_text="Whose name stands on the paper."
    )
    signature = models.ForeignKey(
        Signature,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Of whoever put the paper on record.",
    )
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(stood="contains", fill__isnull=False, turnaround__isnull=True)
                | (
                    Q(stood__in=("empty", "released"))
                    & Q(fill__isnull=True, turnaround__isnull=False)
                ),
                name="start_has_what_it_stood_as",
            ),
            models.CheckConstraint(
                condition=(
                    Q(stood="released", released_at__isnull=False, signature__isnull=False)
                    & ~Q(paper_signer="")
                )
                | (
                    ~Q(stood="released")
                    & Q(released_at__isnull=True, signature__isnull=True, paper_signer="")
                ),
                name="start_on_paper_is_signed",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.vessel.name}: {self.get_stood_display()}, {BEFORE_RECORD}"

    @property
    def on_paper(self) -> bool:
        return self.stood == Stood.RELEASED

    @property
    def words(self) -> str:
        """As 'Released on paper by R. Vane, before this record began'."""
        if self.on_paper:
            return f"Released on paper by {self.paper_signer}, {BEFORE_RECORD}"
        return f"{'Filled' if self.stood == Stood.CONTAINS else 'Emptied'} {BEFORE_RECORD}"


def start_of(turnaround: Turnaround) -> VesselStart | None:
    """How a turnaround began, where that was before this record; 0 queries where joined."""
    found: VesselStart | None = getattr(turnaround, "start", None)
    return found
