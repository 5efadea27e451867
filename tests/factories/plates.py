"""What the closing of a positive plate takes: a strong re-clean, and a new plate after it."""

from datetime import datetime, timedelta
from typing import Any

from brewhygiene.plates.models import Plate
from brewhygiene.turnarounds.models import Clean, Turnaround
from tests.factories.people import make_head_brewer
from tests.factories.regimes import make_version

MINUTE = timedelta(minutes=1)


def make_reclean(plate: Plate, *, now: datetime, level: int = 3, **values: Any) -> Clean:
    """A clean of a plate's vessel, finished at ``now``, written straight to the table."""
    return Clean.objects.create(
        **{
            "turnaround": plate.turnaround,
            "version": make_version(level=level, steps=False, vessel_kinds=[plate.vessel.kind]),
            "started_at": now - MINUTE,
            "started_by": plate.sent_by,
            "finished_at": now,
            "finished_by": plate.sent_by,
            "sanitised_at": now,
            **values,
        }
    )


def make_plate_again(plate: Plate, *, now: datetime, **values: Any) -> Plate:
    """A negative plate of the same point and medium, taken at ``now``."""
    return Plate.objects.create(
        **{
            "vessel": plate.vessel,
            "turnaround": plate.turnaround,
            "point": plate.point,
            "medium": plate.medium,
            "taken_at": now,
            "due_on": now.date(),
            "sent_by": plate.sent_by,
            "state": "negative",
            "read_at": now,
            "read_by": plate.read_by or make_head_brewer(),
            **values,
        }
    )


def made_good(plate: Plate, *, now: datetime, at: Turnaround | None = None) -> dict[str, Any]:
    """All that closing a plate at ``now`` asks for beside its measures and the password."""
    plate.refresh_from_db()
    where = {} if at is None else {"turnaround": at}
    return {
        "reclean": make_reclean(plate, now=now, **where),
        "inspected": "sound",
        "finding": "Valve and gasket opened: clean",
        "inspected_at": now,
        "replating": make_plate_again(plate, now=now, **where),
    }
