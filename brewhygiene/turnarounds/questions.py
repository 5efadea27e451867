"""What turnarounds ask of the rooms above them."""

from collections.abc import Mapping, Sequence

from brewhygiene.cellar.models import Vessel
from brewhygiene.questions import Question
from brewhygiene.turnarounds.models import StepRecord

allergens_carried: Question[[Vessel], Mapping[str, str]] = Question(
    "Which allergens does a vessel carry, by their codes, and of which beer each? 5 queries."
)
points_not_sampled: Question[[StepRecord], Sequence[str]] = Question(
    "Which required points of its moment have no reading at the end of a sample step? 4 queries."
)
