"""Which vessels can still be put on record as they stand."""

from django.db.models import Exists, OuterRef

from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.cellar.queries import by_place
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.models.starts import VesselStart


def vessels_not_on_record() -> list[Vessel]:
    """Vessels of which nothing is recorded yet, in the cellar's order. 1 query.

    Those out of service are left out until they are back.
    """
    of_vessel = {"vessel": OuterRef("pk")}
    found = Vessel.objects.filter(
        ~Exists(Turnaround.objects.filter(**of_vessel)),
        ~Exists(Fill.objects.filter(**of_vessel)),
        out_of_service_since__isnull=True,
    )
    return sorted(found, key=by_place)


def starts_for_setup() -> list[VesselStart]:
    """What was put on record as it stood, in the cellar's order. 1 query."""
    found = VesselStart.objects.select_related("vessel", "fill__beer", "recorded_by")
    return sorted(found, key=lambda start: by_place(start.vessel))
