"""What one hand leaves to the next at the end of a shift."""

from django.db import models

from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import User


class Handover(Evidence):
    """What was half done when somebody left, and their note.

    ``lines`` are dicts of ``vessel``, ``status`` (a code) and ``words``, as they stood then.
    """

    note = models.TextField(max_length=2000, blank=True)
    lines = models.JSONField(default=list)
    handed_over_at = models.DateTimeField(db_index=True)
    handed_over_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"handover of {self.handed_over_by.pseudonym}"


class HandoverRead(Evidence):
    """That somebody read it."""

    handover = models.ForeignKey(Handover, on_delete=models.PROTECT, related_name="readers")
    read_at = models.DateTimeField()
    read_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["handover", "read_by"], name="handover_read_once")
        ]

    def __str__(self) -> str:
        return f"{self.handover}, read by {self.read_by.pseudonym}"
