"""Permits to enter a vessel."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import Signature
from brewhygiene.quantities.sources import ValueSource, source_words
from brewhygiene.turnarounds.models import Turnaround


class EntryPermit(Evidence):
    """Somebody may be inside a vessel: from the signature until it is closed out."""

    set_once = frozenset({"closed_at", "closed_by", "close_note"})

    turnaround = models.ForeignKey(Turnaround, on_delete=models.PROTECT, related_name="permits")
    reason = models.CharField(max_length=200, help_text="The work to be done inside.")
    entrants = models.CharField(max_length=200, help_text="Who goes in.")
    attendant = models.CharField(max_length=80, help_text="Who stays outside and watches.")
    isolation = models.TextField(help_text="What is shut, blanked, locked and tagged.")
    oxygen_pct = models.FloatField(help_text="Oxygen inside, % by volume, as read.")
    co2_pct = models.FloatField(help_text="CO2 inside, % by volume, as read.")
    explosive_pct = models.FloatField(
        help_text="Flammable gas inside, % of its lower explosive limit, as read."
    )
    source = models.CharField(
        max_length=12, choices=ValueSource.choices, help_text="Where the readings are from."
    )
    opened_at = models.DateTimeField()
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    close_note = models.TextField(blank=True, help_text="What was done and found.")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["turnaround"],
                condition=Q(closed_at__isnull=True),
                name="one_open_permit_per_turnaround",
            ),
            models.CheckConstraint(
                condition=(Q(closed_at__isnull=True) & Q(closed_by__isnull=True))
                | (Q(closed_at__isnull=False) & Q(closed_by__isnull=False)),
                name="permit_closed_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.turnaround.vessel.name}, entry permit {self.pk}"

    @property
    def source_words(self) -> str:
        return source_words(self.source)
