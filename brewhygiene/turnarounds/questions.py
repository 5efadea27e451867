"""What turnarounds ask of the rooms above them."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from brewhygiene.cellar.models import Vessel
from brewhygiene.questions import Question
from brewhygiene.turnarounds.models import StepRecord, Turnaround

allergens_carried: Question[[Vessel], Mapping[str, str]] = Question(
    "Which allergens does a vessel carry, by their codes, and of which beer each? 5 queries."
)
was_decided: Question[[Turnaround, datetime], bool] = Question(
    "Was the vessel of a turnaround held or released at a moment or after it? 1 query."
)
points_not_sampled: Question[[StepRecord], Sequence[str]] = Question(
    "Which required points of its moment have no reading at the end of a sample step? 4 queries."
)
