"""How the tests of corrected movements correct one, and what a refusal may not leave behind."""

from typing import Any

import pytest

from brewhygiene.batches.corrections.movements.actions import correct_movement
from brewhygiene.batches.models.corrections import MovementCorrection
from brewhygiene.batches.models.movements import Movement, Touch
from brewhygiene.cellar.models import Fill
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from tests.batches.scenes import Brewhouse
from tests.factories import PASSWORD, acting


def corrected(
    house: Brewhouse, movement: Movement, hours: float = 200, **values: Any
) -> MovementCorrection:
    """``at`` is the hour that the movement should have been recorded at."""
    at = values.pop("at", None)
    return correct_movement(
        **{
            "by": acting(house.hand, now=house.at(hours)),
            "movement": movement,
            "moved_at": movement.moved_at if at is None else house.at(at),
            "reason": " Read off the wrong line ",
            "password": PASSWORD,
            "revision_seen": movement.corrections.count(),
            **values,
        }
    )


def everything() -> list[Any]:
    return [list(model.objects.order_by("pk").values()) for model in (Movement, Touch, Fill)] + [
        MovementCorrection.objects.count(),
        Entry.objects.count(),
    ]


def refused_with(house: Brewhouse, movement: Movement, **values: Any) -> tuple[str | None, str]:
    before = everything()
    with pytest.raises(Refusal) as refused:
        corrected(house, movement, **values)
    assert everything() == before
    return refused.value.field, refused.value.code


def the(kind: str, **values: Any) -> Movement:
    return Movement.objects.get(kind=kind, **values)
