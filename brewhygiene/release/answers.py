"""What release answers to the rooms below it."""

from datetime import datetime

from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.questions import was_decided


@was_decided.answered_by
def decided_since(turnaround: Turnaround, moment: datetime) -> bool:
    return turnaround.decisions.filter(decided_at__gte=moment).exists()  # type: ignore[attr-defined]
