"""Reads of the hold times."""

from brewhygiene.cellar.hold_times.actions import Hours, hours_of
from brewhygiene.cellar.models import HoldClock


def stored_hold_times() -> dict[str, Hours]:
    """The hours of the kinds of vessel that the brewery has set, by kind. 1 query."""
    return {clock.vessel_kind: hours_of(clock) for clock in HoldClock.objects.all()}
