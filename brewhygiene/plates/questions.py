"""What plates ask of the rooms above them."""

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db.models import QuerySet

from brewhygiene.ledger.recording import Actor
from brewhygiene.plates.models import Plate
from brewhygiene.questions import Question


@dataclasses.dataclass(frozen=True)
class AtRisk:
    """Something that a plate holds: what it is, what was decided last, and where its page is."""

    about: str
    decided: str
    address: str
    is_open: bool


held_by_plate: Question[[Actor, Plate], list[str]] = Question(
    "Which batches and yeast crops does a positive plate hold? Recorded with its reading."
)
at_risk_of: Question[[Iterable[Plate] | QuerySet[Any]], Mapping[int, Sequence[AtRisk]]] = Question(
    "What do these plates hold, and what was decided on each? By the plate's key."
)
