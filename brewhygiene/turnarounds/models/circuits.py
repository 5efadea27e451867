"""What a clean and its steps ran on and drew from; null where a brewery has no skids."""

from django.db import models
from django.db.models import Q

from brewhygiene.skids.models import Skid, Solution


class RanOn(models.Model):
    """The skid, and the hose if it was another thing than the skid's own."""

    skid = models.ForeignKey(
        Skid, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    hose = models.ForeignKey(
        Skid, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        abstract = True

    @property
    def gear(self) -> list[Skid]:
        """The skid and the hose, where there are any. 0 queries where joined."""
        return [one for one in (self.skid, self.hose) if one is not None]

    @property
    def gear_words(self) -> str:
        """As 'Skid 1, Hose 3'; '' where nothing is named."""
        return ", ".join(one.name for one in self.gear)


class DrewFrom(models.Model):
    """The solution of a step: from a tank, or made up for it beside the skid's tanks."""

    solution = models.ForeignKey(
        Solution, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    made_fresh = models.BooleanField(default=False)
    solution_words = models.CharField(
        max_length=200, blank=True, help_text="How strong the solution last was, at its start."
    )
    solution_reason = models.CharField(
        max_length=200, blank=True, help_text="Why the solution was used past its dump rule."
    )

    class Meta:
        abstract = True


DRAWN_OR_FRESH = models.CheckConstraint(
    condition=Q(solution__isnull=True) | Q(made_fresh=False), name="solution_drawn_or_made_fresh"
)
