"""What the cellar asks of the rooms above it."""

from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.questions import Question

was_read: Question[[SamplingPoint], bool] = Question("Was a sampling point ever read?")
harm_by_preferred: Question[[Vessel], str] = Question(
    "Why would a vessel's preferred regime harm it, in words, or ''?"
)
