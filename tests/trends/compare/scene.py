"""Vessels with a history of turnarounds to compare, and the pages asked of them."""

from datetime import timedelta
from typing import Any

from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.people.models import User
from tests import clock
from tests.factories import (
    Cellar,
    make_vessel,
)
from tests.histories import Swab, Turn, make_history
from tests.turnarounds.floor import signed_in


def span() -> dict[str, Any]:
    now = clock.now()
    return {"since": now - timedelta(days=400), "until": now + timedelta(days=1)}


def compare(user: User, **asked: str) -> HttpResponse:
    return signed_in(user).get(reverse("trends:compare"), asked)


def rows(user: User, **asked: str) -> HttpResponse:
    return signed_in(user).get(reverse("trends:compare_rows"), asked)


def words(answer: HttpResponse) -> str:
    return " ".join(answer.content.decode().split())


def share(turn: Turn, of: str, share: float) -> bool:
    return turn.chance(of).random() < share


def history(cellar: Cellar, *, vessels: int = 6, cleans: int = 30, **values: Any) -> list[str]:
    """Some vessels with a year of weeks; 1 in 20 first readings is over the action limit."""
    names = [cellar.vessel.name]
    made = [cellar.vessel]
    for number in range(1, vessels):
        made.append(make_vessel(points=1, name=f"Tank {number}", order=number))
        names.append(f"Tank {number}")

    def rlu(swab: Swab) -> int:
        return 300 if share(swab.turn, "over", 0.05) else 2

    make_history(
        cellar=cellar,
        vessels=made,
        cleans=cleans,
        until=clock.now() - timedelta(days=1),
        **{"rlu": rlu, **values},
    )
    return names


def bad_at(vessel: str, part: float = 0.5) -> Any:
    def rlu(swab: Swab) -> int:
        bad = swab.turn.vessel.name == vessel
        return 300 if share(swab.turn, "over", part if bad else 0.04) else 2

    return rlu
