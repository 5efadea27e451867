"""What plates answer to the rooms below them."""

from django.db.models import OuterRef, QuerySet

from brewhygiene.atp.questions import plates_that_grew
from brewhygiene.plates.models import Plate, PlateState


@plates_that_grew.answered_by
def positive_plates_of(turnaround: OuterRef) -> QuerySet[Plate]:
    """Those read positive."""
    return Plate.objects.filter(turnaround=turnaround, state=PlateState.POSITIVE)
