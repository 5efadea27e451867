"""What the release room asks of the rooms above it."""

from collections.abc import Sequence

from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.questions import Question

batch_of_fill: Question[[Actor, Fill, Sequence[Vessel] | None], None] = Question(
    "Which batch was a vessel filled with, and what did it come through? Recorded with the fill."
)
