"""What changeovers ask of the rooms above them."""

from collections.abc import Collection, Sequence
from datetime import datetime

from brewhygiene.questions import Question

# A vessel, a beer, and when that beer went through or into it last.
Passed = tuple[int, int, datetime]

last_passes: Question[[Collection[int], Collection[int], datetime | None], Sequence[Passed]] = (
    Question(
        "When did each of these beers last go through or into each of these vessels, by the "
        "movements on record up to a time? Beer and its yeast alike. 1 query."
    )
)
