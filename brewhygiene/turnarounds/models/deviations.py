"""What was not as set in a clean, and what was decided on it."""

from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from brewhygiene.ledger.places import Evidence
from brewhygiene.people.models import User
from brewhygiene.quantities.style import digits
from brewhygiene.regimes.models import Quantity
from brewhygiene.turnarounds.models import StepReading, StepRecord


class DeviationKind(models.TextChoices):
    BELOW = "below", "below its window"
    ABOVE = "above", "above its window"
    NOT_READ = "not_read", "not read"
    LEFT_OUT = "left_out", "step left out"
    END_NOT_MET = "end_not_met", "end not reached"
    STATED = "stated", "stated afterwards"
    FORGOTTEN = "forgotten", "timer forgotten"
    RETURNED = "returned", "returned to the tank"
    OBSERVED = "observed", "observation not passed"
    NOT_SAMPLED = "not_sampled", "ended without its sample"


class Disposition(models.TextChoices):
    REPEAT = "repeat", "repeat the step"
    EXTEND = "extend", "extend the step"
    TOP_UP = "top_up", "topped up"
    HEAT = "heat", "heated up"
    ACCEPT = "accept", "accept with a reason"
    STOP = "stop", "stop the clean"
    READ = "read", "read later"
    SAMPLED = "sampled", "sampled later"


# What a person may decide on; READ and SAMPLED come of what arrived late.
DECISIONS = (
    Disposition.TOP_UP,
    Disposition.HEAT,
    Disposition.REPEAT,
    Disposition.EXTEND,
    Disposition.ACCEPT,
    Disposition.STOP,
)
# After these the solution is another one: what was read of it has to be read again.
PUT_RIGHT = frozenset({Disposition.TOP_UP, Disposition.HEAT, Disposition.EXTEND})


class Deviation(Evidence):
    """A reading outside its window or a step left out. It needs a disposition."""

    set_once = frozenset({"disposition", "reason", "added", "disposed_at", "disposed_by"})

    record = models.ForeignKey(StepRecord, on_delete=models.PROTECT, related_name="deviations")
    reading = models.OneToOneField(
        StepReading, null=True, blank=True, on_delete=models.PROTECT, related_name="deviation"
    )
    kind = models.CharField(max_length=12, choices=DeviationKind.choices)
    quantity = models.CharField(max_length=20, choices=Quantity.choices, blank=True)
    description = models.CharField(max_length=200)
    found_at = models.DateTimeField()
    disposition = models.CharField(max_length=8, choices=Disposition.choices, blank=True)
    reason = models.TextField(blank=True)
    added = models.JSONField(
        null=True, blank=True, help_text="What a solution was topped up with: kg, agent and lot."
    )
    disposed_at = models.DateTimeField(null=True, blank=True)
    disposed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(disposition="") | Q(disposed_at__isnull=False),
                name="disposition_has_time",
            ),
            models.CheckConstraint(
                condition=~Q(disposition="accept") | ~Q(reason=""),
                name="accepted_deviation_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.description

    @property
    def decided_words(self) -> str:
        """What was decided, as 'topped up with 5.5 kg of Caustic liquor, lot C-77'."""
        words = str(self.get_disposition_display())
        if not self.added:
            return words
        lot = f", lot {self.added['lot']}" if self.added["lot"] else ""
        return (
            f"{words} with {digits(self.added['kg'], 'g')} kg of "
            f"{self.added['agent'] or 'agent'}{lot}"
        )

    def decide(
        self,
        disposition: str,
        *,
        reason: str,
        at: datetime,
        by: User,
        added: dict[str, Any] | None = None,
    ) -> None:
        """Keep what was decided, why, when and by whom. Part of actions."""
        self.disposition, self.reason, self.added = disposition, reason, added
        self.disposed_at, self.disposed_by = at, by
        self.save(update_fields=["disposition", "reason", "added", "disposed_at", "disposed_by"])
