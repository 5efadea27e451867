"""How points stand, and that it is brought up to date by little."""

import random
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command

from brewhygiene.atp.models.bridges import Bridge
from brewhygiene.atp.models.phases import ChartPhase
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import PartWork, SamplingPoint, Vessel
from brewhygiene.people.models import Signature
from brewhygiene.trends.models import PointStanding
from brewhygiene.trends.signals.standing import refresh, standings, standings_and_waiting
from tests import clock
from tests.factories import NOW, Cellar, make_meter, make_vessel
from tests.histories import Swab, make_history

pytestmark = [pytest.mark.django_db, pytest.mark.hourly]


def calm(swab: Swab) -> int:
    """The same each time, whatever the vessel is called."""
    place = (swab.turn.vessel.order, swab.point.order, swab.turn.number)
    return random.Random(str(place)).choice((0, 1, 1, 2, 2, 3, 4, 5))


def leaking_from(number: int, *, vessel: Vessel):
    def rlu(swab: Swab) -> int:
        bad = swab.turn.vessel == vessel and swab.turn.number >= number
        return calm(swab) * 5 + 12 if bad else calm(swab)

    return rlu


@pytest.mark.instants
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


@pytest.mark.instants
def test_new_reading_and_part_work_are_seen() -> None:
    cellar = Cellar(points=1)
    make_history(cellar=cellar, cleans=30, rlu=calm)
    (row,) = standings(NOW)
    assert row.readings == 30
    now = clock.now()
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


def test_correction_is_seen() -> None:
    cellar = Cellar(points=1)
    made = make_history(cellar=cellar, cleans=20, rlu=calm)
    (before,) = standings(NOW)
    right = Result.objects.get(pk=made.results[5].pk)
    right.pk, right.rlu = None, right.rlu + 200
    right.corrects, right.correction_reason = made.results[5], "Mistyped"
    right.save(force_insert=True)
    (row,) = standings(NOW)
    assert row.readings == before.readings == 20
    assert row.centre != before.centre or row.sigma != before.sigma


def test_chart_begun_anew_is_seen() -> None:
    cellar = Cellar(points=2)
    make_history(cellar=cellar, cleans=40, rlu=calm)
    standings(NOW)
    begins = NOW - timedelta(days=7 * 16)
    ChartPhase.objects.create(
        point=cellar.point,
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        begins_at=begins,
        baseline_until=NOW,
        reason="Valve rebuilt",
        made_at=NOW,
        made_by=cellar.brewer,
    )
    readings = {row.point_id: (row.readings, row.phase_began_at) for row in standings(NOW)}
    assert readings[cellar.point.pk] == (16, begins)
    assert {n for n, _ in readings.values()} == {16, 40}


def test_bridge_is_seen_when_approved_and_when_retired() -> None:
    cellar = Cellar(points=1)
    other = make_meter()
    make_history(
        cellar=cellar,
        cleans=40,
        rlu=calm,
        meter=lambda turn: cellar.meter if turn.number < 30 else other,
    )
    (row,) = standings(NOW)
    assert (row.meter, row.readings, row.centre) == (other, 10, None)
    signature = Signature.objects.create(
        user=cellar.brewer, printed_name="Mara Oduya", meaning="Bridge", signed_at=NOW
    )
    bridge = Bridge.objects.create(
        reference_meter=cellar.meter,
        reference_atp_test=cellar.atp_test,
        new_meter=other,
        new_atp_test=cellar.atp_test,
        opened_at=NOW,
        opened_by=cellar.brewer,
        log_slope=1,
        log_intercept=0,
    )
    assert standings(NOW)[0].readings == 10
    bridge.approved_at, bridge.approval = NOW, signature
    bridge.save()
    (row,) = standings(NOW)
    assert (row.meter, row.readings) == (other, 40)
    assert row.centre is not None
    bridge.retired_at = NOW
    bridge.save()
    assert standings(NOW)[0].readings == 10


def test_two_meters_in_use_at_once_each_have_a_standing() -> None:
    cellar = Cellar(points=1)
    other = make_meter()
    make_history(
        cellar=cellar,
        cleans=40,
        rlu=calm,
        meter=lambda turn: (cellar.meter, other)[turn.number % 2],
    )
    assert {row.meter: row.readings for row in standings(NOW)} == {cellar.meter: 20, other: 20}


def test_point_out_of_use_is_not_ranked() -> None:
    cellar = Cellar(points=2)
    make_history(cellar=cellar, cleans=20, rlu=calm)
    SamplingPoint.objects.filter(pk=cellar.point.pk).update(active=False)
    assert [row.point.order for row in standings(NOW)] == [1]
    assert PointStanding.objects.count() == 2


def test_large_house_is_worked_out_page_by_page_and_misses_nothing() -> None:
    cellar = Cellar(points=3)
    vessels = [cellar.vessel, *(make_vessel(points=3, order=n) for n in range(1, 4))]
    make_history(cellar=cellar, vessels=vessels, cleans=14, rlu=calm)
    assert [standings_and_waiting(NOW, at_most=5).waiting for _ in range(3)] == [7, 2, 0]
    assert len(standings(NOW)) == 12
    assert {row.readings for row in standings(NOW)} == {14}


def test_command_works_everything_out() -> None:
    cellar = Cellar(points=2)
    make_history(cellar=cellar, cleans=14, rlu=calm)
    said = StringIO()
    call_command("refresh_standings", stdout=said)
    call_command("refresh_standings", stdout=said)
    call_command("refresh_standings", "--all", stdout=said)
    assert said.getvalue() == "2 calculated.\n0 calculated.\n2 calculated.\n"


def test_what_was_worked_out_by_other_rules_is_worked_out_again_bit_by_bit() -> None:
    cellar = Cellar(points=3)
    make_history(cellar=cellar, cleans=14, rlu=calm)
    first = {row.point_id: row.centre for row in standings(NOW)}
    for row in PointStanding.objects.all():
        row.seen, row.centre = row.seen[:-8] + "00000000", 99
        row.save()
    make_history(cellar=cellar, cleans=1, rlu=calm, until=NOW + timedelta(days=14))
    assert [standings_and_waiting(NOW, at_most=2).waiting for _ in range(3)] == [1, 1, 0]
    rows = standings(NOW)
    assert {row.readings for row in rows} == {15}
    assert all(row.centre != 99 for row in rows)
    assert first.keys() == {row.point_id for row in rows}
