"""What a tablet had kept, the server would not take, and somebody then set aside."""

from django.db import models

from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import User


class SetAside(Evidence):
    """One form as it was typed, why it was not taken, and why it is not typed again.

    ``typed`` are pairs of a field's label and what stood in it.
    """

    what = models.CharField(max_length=200)
    page = models.CharField(max_length=300)
    typed = models.JSONField(default=list)
    typed_at = models.DateTimeField(help_text="By the tablet's clock, corrected.")
    refused_because = models.TextField(max_length=2000)
    reason = models.CharField(max_length=300)
    set_aside_at = models.DateTimeField(db_index=True)
    set_aside_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~models.Q(reason=""), name="set_aside_has_reason"),
        ]

    def __str__(self) -> str:
        return self.what
