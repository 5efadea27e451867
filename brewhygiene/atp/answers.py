"""What ATP answers to the rooms below it."""

from collections.abc import Sequence

from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.readings.due import required_unsampled
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.cellar.questions import was_read
from brewhygiene.turnarounds.models import StepRecord
from brewhygiene.turnarounds.questions import points_not_sampled


@was_read.answered_by
def has_readings(point: SamplingPoint) -> bool:
    """Corrected readings count too. 1 query."""
    return Result.objects.filter(point=point).exists()


@points_not_sampled.answered_by
def unsampled_at_step(record: StepRecord) -> Sequence[str]:
    """Of no use for a retest: one reading of the clean is enough."""
    return required_unsampled(record)
