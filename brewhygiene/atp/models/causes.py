"""What was found behind a reading over a limit."""

from django.conf import settings
from django.db import models

from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import SampleKind
from brewhygiene.ledger.places import Evidence
from brewhygiene.turnarounds.models import Turnaround


class Cause(models.TextChoices):
    """What was found to be wrong, in the order in which a brewer looks."""

    GASKET = "gasket", "gasket or seal"
    VALVE = "valve", "valve not pulsed or not opened"
    DEAD_LEG = "dead_leg", "dead leg"
    SHADOW = "shadow", "spray shadow"
    SURFACE = "surface", "weld or surface damaged"
    SPRAY_DEVICE = "spray_device", "spray device blocked or worn"
    FLOW = "flow", "flow or pump setting"
    HEAT = "heat", "temperature too low"
    DRIED_SOIL = "dried_soil", "soil dried on"
    WEAK_SOLUTION = "weak_solution", "solution weak or carbonated"
    WATER = "water", "water quality"
    REGIME = "regime", "regime too weak for the soil"
    BEERSTONE = "beerstone", "beerstone"
    METER = "meter", "meter"
    ATP_TESTS = "sticks", "ATP tests or their storage"
    SAMPLING = "sampling", "sampling mistake"
    NOT_FOUND = "not_found", "no cause found"


# For which kinds of sample a cause is offered; those not named, for every kind. A swab touches one
# place, which final rinse water does not reach or make; a rinse runs past a spray shadow.
# Common practice, no source.
ONLY_FOR: dict[Cause, frozenset[SampleKind]] = {
    Cause.SHADOW: frozenset({SampleKind.SURFACE}),
    Cause.WATER: frozenset({SampleKind.RINSE}),
}


def fits(cause: str, sample_kind: str) -> bool:
    """Whether a cause may be behind a sample of a kind."""
    kinds = ONLY_FOR.get(Cause(cause))
    return kinds is None or sample_kind in kinds


class FoundCause(Evidence):
    """What was found behind a reading over a limit or a held vessel."""

    turnaround = models.ForeignKey(
        Turnaround, on_delete=models.PROTECT, related_name="found_causes"
    )
    result = models.ForeignKey(
        Result, null=True, blank=True, on_delete=models.PROTECT, related_name="found_causes"
    )
    cause = models.CharField(max_length=20, choices=Cause.choices)
    note = models.CharField(max_length=200, blank=True)
    found_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["-found_at"], name="found_cause_by_time")]

    def __str__(self) -> str:
        return f"{self.get_cause_display()}: {self.turnaround}"
