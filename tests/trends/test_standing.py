"""How points stand, and that it is brought up to date by little."""

import random
from datetime import timedelta

import pytest
from django.utils import timezone

from brewhygiene.cellar.models import PartWork, Vessel
from brewhygiene.trends.models import PointStanding
from brewhygiene.trends.standing import refresh, standings
from tests.factories import NOW, Cellar, make_vessel
from tests.histories import Stick, make_history

pytestmark = pytest.mark.django_db


def calm(stick: Stick) -> int:
    """The same each time, whatever the vessel is called."""
    place = (stick.turn.vessel.order, stick.point.order, stick.turn.number)
    return random.Random(str(place)).choice((0, 1, 1, 2, 2, 3, 4, 5))


def leaking_from(number: int, *, vessel: Vessel):
    def rlu(stick: Stick) -> int:
        bad = stick.turn.vessel == vessel and stick.turn.number >= number
        return calm(stick) * 5 + 12 if bad else calm(stick)

    return rlu


def test_vessel_that_gets_worse_is_ranked_first() -> None:
    cellar = Cellar(points=2)
    others = [make_vessel(points=2, order=n) for n in range(1, 4)]
    bad = others[1]
    make_history(
        cellar=cellar,
        vessels=[cellar.vessel, *others],
        cleans=40,
        rlu=leaking_from(34, vessel=bad),
    )
    rows = standings(NOW)
    assert len(rows) == 8
    assert {row.point.vessel_id for row in rows[:2]} == {bad.pk}
    assert all(row.evidence > 1 for row in rows[:2])
    assert {row.rule for row in rows[:2]} <= {"ewma", "cusum"}
    assert all(4 <= row.cleans_since <= 9 for row in rows[:2]), [r.cleans_since for r in rows]


def test_nothing_new_takes_the_same_queries_for_any_number(django_assert_num_queries) -> None:
    cellar = Cellar(points=1)
    make_history(cellar=cellar, cleans=15)
    standings(NOW)
    with django_assert_num_queries(4):
        standings(NOW)
    make_history(cellar=cellar, vessels=[make_vessel(points=3) for _ in range(2)], cleans=15)
    standings(NOW)
    with django_assert_num_queries(4):
        standings(NOW)


def test_new_reading_and_part_work_are_seen() -> None:
    cellar = Cellar(points=1)
    make_history(cellar=cellar, cleans=30, rlu=calm)
    (row,) = standings(NOW)
    assert row.readings == 30
    now = timezone.now()
    PartWork.objects.create(
        vessel=cellar.vessel, kind="gasket", done_at=NOW, recorded_by=cellar.hand
    )
    (row,) = standings(now)
    assert (row.readings, row.centre, row.phase_began_at) == (0, None, NOW)
    make_history(cellar=cellar, cleans=1, until=NOW + timedelta(days=14))
    (row,) = standings(now)
    assert row.readings == 1


def test_emptied_cache_is_worked_out_again() -> None:
    cellar = Cellar(points=2)
    make_history(cellar=cellar, cleans=25, rlu=calm)
    first = [(row.point_id, row.centre, row.evidence) for row in standings(NOW)]
    PointStanding.objects.all().delete()
    assert refresh(NOW) == 2
    assert [(row.point_id, row.centre, row.evidence) for row in standings(NOW)] == first
