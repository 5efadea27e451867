"""What plates ask of the rooms above them."""

from brewhygiene.ledger.recording import Actor
from brewhygiene.plates.models import Plate
from brewhygiene.questions import Question

held_by_plate: Question[[Actor, Plate], list[str]] = Question(
    "Which batches and yeast crops does a positive plate hold? Recorded with its reading."
)
