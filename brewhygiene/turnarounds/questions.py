"""What turnarounds ask of the rooms above them."""

from collections.abc import Mapping

from brewhygiene.cellar.models import Vessel
from brewhygiene.questions import Question

allergens_carried: Question[[Vessel], Mapping[str, str]] = Question(
    "Which allergens does a vessel carry, by their codes, and of which beer each? 5 queries."
)
