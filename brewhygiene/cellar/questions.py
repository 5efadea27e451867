"""What the cellar asks of the rooms above it."""

from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.questions import Question

was_read: Question[[SamplingPoint], bool] = Question("Was a sampling point ever read?")
