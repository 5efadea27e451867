"""What ATP answers to the rooms below it."""

from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.cellar.questions import was_read


@was_read.answered_by
def has_readings(point: SamplingPoint) -> bool:
    """Corrected readings count too. 1 query."""
    return Result.objects.filter(point=point).exists()
