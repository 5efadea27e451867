"""Pages of a point's and a vessel's charts, and the form that starts a new phase."""

import html
import random
import re
from datetime import timedelta

import pytest
from django.test import Client

from brewhygiene.atp.models.phases import ChartPhase
from brewhygiene.cellar.models import PartWork, PartWorkKind
from tests.factories import (
    NOW,
    Cellar,
    make_meter,
    make_test_lot,
    make_version,
    make_vessel,
)
from tests.histories import Swab, make_history

pytestmark = pytest.mark.django_db


def calm(swab: Swab) -> int:
    """The same each time, whatever the vessel is called."""
    place = (swab.turn.vessel.order, swab.point.order, swab.turn.number)
    return random.Random(str(place)).choice((0, 1, 1, 2, 2, 3, 4, 5))


def worse_from(number: int):
    return lambda swab: (
        calm(swab) * (5 if swab.turn.number >= number else 1)
        + (15 if swab.turn.number >= number else 0)
    )


def page(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return html.unescape(answer.content.decode())


def test_point_that_gets_worse_says_since_when_by_which_rule_and_what_to_check(
    client: Client,
) -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=40, rlu=worse_from(34))
    client.force_login(cellar.hand)
    shown = page(client, f"/trends/points/{cellar.point.pk}/")
    assert "getting worse" in shown
    assert (
        "Readings rise</strong></span>: the moving average (EWMA) is beyond its limit, "
        "since" in re.sub(r"\s+", " ", shown)
    )
    assert "<li>gasket</li>" in shown
    assert "Common practice, no source." in shown
    assert "Shared causes" not in shown


def test_steady_point_says_so(client: Client) -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=30, rlu=lambda swab: 3 + swab.turn.number % 3)
    client.force_login(cellar.owner)
    shown = page(client, f"/trends/points/{cellar.point.pk}/")
    assert '<span class="flag-word">steady</span>' in shown
    assert "Limits from the first 20 readings of the phase" in shown


@pytest.mark.parametrize(
    "cleans, rlu, words",
    [
        (0, 3, "No readings yet"),
        (2, 3, "2 readings so far. Limits need 12, 10 more."),
        (
            30,
            0,
            "All 20 readings are equal, so their variation is unknown. Limits appear",
        ),
        (
            30,
            7,
            "All 20 readings are equal, so their variation is unknown. Limits appear",
        ),
    ],
)
def test_point_without_limits_says_why(client: Client, cleans: int, rlu: int, words: str) -> None:
    cellar = Cellar()
    if cleans:
        make_history(cellar=cellar, cleans=cleans, rlu=lambda swab: rlu)
    client.force_login(cellar.hand)
    shown = page(client, f"/trends/points/{cellar.point.pk}/")
    assert words in shown
    assert "nan" not in shown.lower().replace("maintenance", "")


def test_one_enormous_reading_is_named_and_no_trend(client: Client) -> None:
    cellar = Cellar()
    make_history(
        cellar=cellar,
        cleans=30,
        rlu=lambda swab: 9_999_999 if swab.turn.number == 29 else 3 + swab.turn.number % 3,
    )
    client.force_login(cellar.hand)
    shown = page(client, f"/trends/points/{cellar.point.pk}/")
    assert '<span class="flag-word">one reading is high</span>' in shown


def test_change_of_meter_and_lots_are_marked_and_scales_not_joined(client: Client) -> None:
    cellar = Cellar()
    other = make_meter(name="Second meter")
    lot = make_test_lot(cellar.atp_test, lot="NEW-7")
    make_history(
        cellar=cellar,
        cleans=40,
        meter=lambda turn: cellar.meter if turn.number < 20 else other,
        test_lot=lambda turn: cellar.lot if turn.number < 30 else lot,
        agent_lot=lambda turn: "C-1" if turn.number < 10 else "C-2",
    )
    client.force_login(cellar.hand)
    shown = page(client, f"/trends/points/{cellar.point.pk}/")
    assert f"read with Second meter with {cellar.atp_test.name}" in shown
    assert "lot NEW-7 <span" in shown
    assert "lot C-2" in shown
    assert "2 phases, each with its own baseline." in shown


def test_run_rules_can_be_chosen(client: Client) -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=30)
    client.force_login(cellar.hand)
    shown = page(client, f"/trends/points/{cellar.point.pk}/?rules=western_electric")
    assert "4 of 5 readings beyond 1 sigma on one side" in shown
    assert page(client, f"/trends/points/{cellar.point.pk}/?rules=nonsense")


@pytest.mark.parametrize("cleans", [13, 39])
def test_point_page_takes_the_same_queries_for_few_and_many_readings(
    client: Client, django_assert_num_queries, cleans: int
) -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=cleans, rlu=lambda swab: 3 + swab.turn.number % 4)
    client.force_login(cellar.hand)
    with django_assert_num_queries(18):
        client.get(f"/trends/points/{cellar.point.pk}/")


@pytest.mark.parametrize("points", [1, 3])
def test_vessel_page_takes_the_same_queries_for_one_point_and_three(
    client: Client, django_assert_num_queries, points: int
) -> None:
    cellar = Cellar(points=points)
    make_history(cellar=cellar, cleans=15)
    client.force_login(cellar.hand)
    with django_assert_num_queries(15):
        client.get(f"/trends/vessels/{cellar.vessel.pk}/")


def test_vessel_page_says_that_all_its_points_get_worse(client: Client) -> None:
    cellar = Cellar(points=3)
    make_history(cellar=cellar, cleans=40, rlu=worse_from(32))
    PartWork.objects.create(
        vessel=make_vessel(), kind="valve", done_at=NOW, recorded_by=cellar.hand
    )
    client.force_login(cellar.hand)
    shown = page(client, f"/trends/vessels/{cellar.vessel.pk}/")
    assert f"All points of {cellar.vessel.name} are getting worse." in shown
    assert "None on record. Record new gaskets" in shown


def test_vessel_without_points_says_so(client: Client) -> None:
    cellar = Cellar(points=0)
    client.force_login(cellar.hand)
    assert "has no sampling point yet" in page(client, f"/trends/vessels/{cellar.vessel.pk}/")


def test_pages_ask_to_sign_in(client: Client) -> None:
    cellar = Cellar()
    for address in (
        f"/trends/points/{cellar.point.pk}/",
        f"/trends/vessels/{cellar.vessel.pk}/",
        "/trends/signals/",
        "/trends/common/",
    ):
        answer = client.get(address)
        assert (answer.status_code, answer["Location"].split("?")[0]) == (302, "/sign-in/")


def test_new_phase_is_started_by_the_head_brewer_only(client: Client) -> None:
    cellar = Cellar()
    make_history(cellar=cellar, cleans=40)
    address = f"/trends/points/{cellar.point.pk}/new-phase/"
    for user in (cellar.hand, cellar.owner):
        client.force_login(user)
        assert client.get(address).status_code == 403
        assert client.post(address, {}).status_code == 403
    client.force_login(cellar.brewer)
    assert client.get(address).status_code == 200
    begins = NOW - timedelta(days=150)
    values = {
        "scale": f"{cellar.meter.pk}-{cellar.atp_test.pk}",
        "begins_at": f"{begins:%Y-%m-%dT%H:%M}",
        "baseline_until": f"{begins + timedelta(days=30):%Y-%m-%dT%H:%M}",
        "reason": "",
    }
    answer = client.post(address, values)
    assert answer.status_code == 422
    assert "Fill in this field." in answer.content.decode()
    answer = client.post(address, {**values, "reason": "Valve rebuilt, not recorded then"})
    assert answer.status_code == 422
    shown = html.unescape(answer.content.decode())
    assert "The baseline contains only 4 cleans, and control limits need 12." in shown
    assert "Valve rebuilt, not recorded then" in shown
    values["baseline_until"] = f"{begins + timedelta(days=100):%Y-%m-%dT%H:%M}"
    answer = client.post(address, {**values, "reason": "Valve rebuilt, not recorded then"})
    assert answer.status_code == 302
    phase = ChartPhase.objects.get()
    assert (phase.reason, phase.made_by) == ("Valve rebuilt, not recorded then", cellar.brewer)
    shown = page(client, f"/trends/points/{cellar.point.pk}/")
    assert "restarted: Valve rebuilt, not recorded then" in shown
    assert "Limits from the 14 readings of the stated baseline" in shown


def test_part_work_is_recorded_by_the_cellar_and_begins_a_phase(client: Client) -> None:
    cellar = Cellar(points=2)
    make_history(cellar=cellar, cleans=20)
    address = f"/vessels/{cellar.vessel.pk}/part-work/"
    client.force_login(cellar.owner)
    assert client.get(address).status_code == 403
    client.force_login(cellar.hand)
    shown = page(client, f"{address}?point={cellar.point.pk}")
    assert f'<option value="{cellar.point.pk}" selected>' in shown
    answer = client.post(address, {"point": cellar.point.pk, "done_at": "2026-03-10T09:00"})
    assert answer.status_code == 422
    answer = client.post(
        address,
        {
            "kind": PartWorkKind.GASKET,
            "point": cellar.point.pk,
            "done_at": "2026-03-10T09:00",
            "note": "EPDM, 50 mm",
        },
    )
    assert (answer.status_code, answer["Location"]) == (302, f"/vessels/{cellar.vessel.pk}/")
    work = PartWork.objects.get()
    assert (work.kind, work.point, work.note) == ("gasket", cellar.point, "EPDM, 50 mm")
    shown = page(client, f"/trends/points/{cellar.point.pk}/")
    assert "No reading since (new gasket: EPDM, 50 mm)." in shown
    other = cellar.vessel.points.get(order=1)
    assert "No reading since" not in page(client, f"/trends/points/{other.pk}/")


def test_retest_stands_beside_the_chart(client: Client) -> None:
    """It judges nothing there."""
    cellar = Cellar()

    def rlu(swab: Swab) -> int:
        return 500 if swab.turn.again else 3 + swab.turn.number % 3

    made = make_history(cellar=cellar, cleans=30, rlu=rlu)
    first = made.results[-1]
    first.pk, first.retest_of_id, first.rlu = None, made.results[-1].pk, 900
    first.taken_at += timedelta(minutes=5)
    first.verdict = "action"
    first.save(force_insert=True)
    client.force_login(cellar.hand)
    shown = page(client, f"/trends/points/{cellar.point.pk}/")
    assert "900 RLU, action, not charted" in shown
    assert '<span class="flag-word">steady</span>' in shown


def test_work_is_one_event_though_two_scales_are_in_use(client: Client) -> None:
    cellar = Cellar()
    other = make_meter()
    make_history(
        cellar=cellar, cleans=20, meter=lambda turn: (cellar.meter, other)[turn.number % 2]
    )
    PartWork.objects.create(
        vessel=cellar.vessel,
        kind="valve",
        note="new seat",
        done_at=NOW - timedelta(days=66),
        recorded_by=cellar.hand,
    )
    client.force_login(cellar.hand)
    shown = page(client, f"/trends/points/{cellar.point.pk}/")
    assert shown.count("valve rebuilt: new seat <span") == 1


def test_regime_that_comes_and_goes_is_marked_once(client: Client) -> None:
    cellar = Cellar()
    acid = make_version(name="Acid only (invented)")
    make_history(
        cellar=cellar,
        cleans=20,
        version=lambda turn: acid if turn.number % 5 == 4 else cellar.version,
    )
    client.force_login(cellar.hand)
    shown = page(client, f"/trends/points/{cellar.point.pk}/")
    assert shown.count("Acid only (invented), version 1 <span") == 1
