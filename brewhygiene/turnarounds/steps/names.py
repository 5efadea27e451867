"""What of a step was recorded without a network: in a name that nobody checked, or late."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.delivery.models import Arrival
from brewhygiene.ledger.recording import aggregate_name
from brewhygiene.turnarounds.steps.screen import StepScreen


@dataclasses.dataclass(frozen=True)
class Stated:
    """Readings by their keys, and what else is not verified."""

    readings: frozenset[int] = frozenset()
    late: frozenset[int] = frozenset()  # readings that arrived after the clean was finished
    others: Sequence[Arrival] = ()


def stated_of(screen: StepScreen) -> Stated:
    """1 query, where the step was begun."""
    item = screen.item
    if not item.attempts:
        return Stated()
    own = {
        ("stepreading", reading.pk) for record in item.attempts for reading in record.readings.all()
    }
    own |= {("steprecord", record.pk) for record in item.attempts}
    own |= {
        ("deviation", found.pk) for record in item.attempts for found in record.deviations.all()
    }
    found = [
        one
        for one in Arrival.objects.filter(
            aggregate=aggregate_name(screen.clean.turnaround)
        ).select_related("person")
        if (one.subject_type, one.subject_id) in own
    ]
    late = frozenset(one.subject_id for one in found if one.after_end)
    found = [one for one in found if one.unverified]
    return Stated(
        late=late,
        readings=frozenset(one.subject_id for one in found if one.subject_type == "stepreading"),
        others=[one for one in found if one.subject_type != "stepreading"],
    )
