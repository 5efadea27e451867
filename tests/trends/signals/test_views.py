"""All signals by their evidence, and what all points share."""

import html
import random
import re
from datetime import timedelta

import pytest
from django.test import Client

from brewhygiene.trends.signals.standing import standings
from brewhygiene.trends.signals.suspects import compare, false_alarms, signed, suspect_words
from tests import clock
from tests.factories import Cellar, make_cellar_hand, make_meter, make_test_lot, make_vessel
from tests.histories import Swab, make_history

pytestmark = [pytest.mark.django_db, pytest.mark.hourly]
CLEANS = 50
BAD = 42


def calm(swab: Swab) -> int:
    """Dealt anew to all points at each clean, so that no week of the house is luckier than another.

    Drawn for each point by itself, some cleans come out high all over the house. Whether two such
    fall into one week, which is then rightly suspected, would hang on the day the history begins.
    """
    dealt = 2 * [0, 1, 1, 2, 2, 3, 4, 5]
    random.Random(swab.turn.number).shuffle(dealt)
    return dealt[3 * swab.turn.vessel.order + swab.point.order]


def house(*, points: int = 3, **history: object) -> Cellar:
    """Five vessels until yesterday, each cleaned every four days."""
    cellar = Cellar(points=points)
    cellar.vessel.name = "FV0"
    cellar.vessel.save()
    others = [make_vessel(points=points, name=f"FV{n}", order=n) for n in range(1, 5)]
    make_history(
        cellar=cellar,
        vessels=[cellar.vessel, *others],
        cleans=CLEANS,
        every=timedelta(days=4),
        until=clock.now() - timedelta(days=1),
        **{"rlu": calm, **history},
    )
    return cellar


def high(swab: Swab) -> int:
    return calm(swab) * 4 + 12


def found(cellar: Cellar) -> list[tuple[str, str]]:
    now = clock.now()
    compared = compare(standings(now), until=now)
    return [(one.rise.factor, one.rise.level) for one in compared.shapes.suspects]


def page(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return html.unescape(answer.content.decode())


@pytest.mark.instants
def test_leaking_gasket_is_point_shaped(client: Client) -> None:
    def rlu(swab: Swab) -> int:
        place = (swab.turn.vessel.name, swab.point.name)
        return high(swab) if place == ("FV2", "Point 3") and swab.turn.number >= BAD else calm(swab)

    cellar = house(rlu=rlu)
    assert found(cellar) == [("point", "FV2, Point 3")]
    client.force_login(cellar.brewer)
    shown = page(client, "/trends/signals/")
    assert "One point: FV2, Point 3" in shown
    assert shown.index("One point: FV2, Point 3") < shown.index("False alarms expected")
    assert "<li>gasket</li>" in shown
    assert "Common practice, no source." in shown


def test_blocked_spray_device_is_vessel_shaped(client: Client) -> None:
    def rlu(swab: Swab) -> int:
        bad = swab.turn.vessel.name == "FV3" and swab.turn.number >= BAD
        return high(swab) if bad else calm(swab)

    cellar = house(rlu=rlu)
    assert found(cellar) == [("vessel", "FV3")]
    client.force_login(cellar.owner)
    shown = page(client, "/trends/signals/")
    assert "All points of FV3" in shown
    assert "<li>spray device blocked or its flow too low</li>" in shown
    assert re.findall(r"<h2 id=.group-1.>(.*)</h2>", shown) == ["▲ All points of FV3"]


def test_weak_caustic_is_agent_shaped() -> None:
    def rlu(swab: Swab) -> int:
        return high(swab) if swab.turn.number >= 46 else calm(swab)

    cellar = house(rlu=rlu, agent_lot=lambda turn: "C-2" if turn.number >= 46 else "C-1")
    ((factor, level),) = found(cellar)
    assert factor == "agent_lot"
    assert level.endswith(", lot C-2")


@pytest.mark.instants
def test_mishandled_test_lot_is_lot_shaped(client: Client) -> None:
    old = make_test_lot()
    bad = make_test_lot(old.atp_test, lot="WARM-1")

    def lot(turn):
        return bad if turn.number >= 40 and (turn.vessel.order + turn.number) % 3 == 0 else old

    cellar = house(
        rlu=lambda swab: high(swab) if swab.lot == bad else calm(swab),
        test_lot=lot,
    )
    assert found(cellar) == [("test_lot", "WARM-1")]
    client.force_login(cellar.brewer)
    shown = page(client, "/trends/common/")
    assert "All readings with ATP tests of lot WARM-1" in shown
    assert "<li>storage of the ATP tests</li>" in shown


def test_technique_is_named_without_blame(client: Client) -> None:
    jonas, priya = (make_cellar_hand(full_name=name) for name in ("Jonas Feld", "Priya Lindqvist"))

    def who(turn):
        return priya if (turn.number + turn.vessel.order) % 2 else jonas

    cellar = house(
        rlu=lambda swab: (
            high(swab) if who(swab.turn) == priya and swab.turn.number >= 40 else calm(swab)
        ),
        cleaned_by=who,
    )
    assert found(cellar) == [("person", "Priya Lindqvist")]
    client.force_login(cellar.brewer)
    shown = page(client, "/trends/common/")
    assert "Samples taken by Priya Lindqvist" in shown
    assert "sampling technique, steps skipped: look at the method together" in shown
    assert not [
        word for word in ("fault", "mistake", "careless", "guilty") if word in shown.lower()
    ]


def test_meter_with_a_larger_scale_is_no_dirtier_house() -> None:
    old, new = make_meter(), make_meter()
    cellar = house(
        rlu=lambda swab: calm(swab) * (20 if swab.meter == new else 1),
        meter=lambda turn: new if turn.number >= 30 else old,
    )
    assert found(cellar) == []
    assert [row.point for row in standings(clock.now()) if row.evidence > 1] == []


def test_steady_brewery_says_so_and_how_many_false_alarms_are_expected(client: Client) -> None:
    cellar = house(points=1)
    client.force_login(cellar.brewer)
    shown = page(client, "/trends/common/")
    assert "Nothing stands out" in shown
    shown = page(client, "/trends/signals/")
    assert (
        "5 points were charted with 35 readings in the last 30 days. If nothing had changed"
        in shown
    )
    alarms = false_alarms(standings(clock.now()), now=clock.now())
    assert (alarms.points, alarms.readings) == (5, 35)
    assert 0.2 < alarms.expected < 1


def test_empty_house_says_so(client: Client) -> None:
    cellar = Cellar()
    client.force_login(cellar.brewer)
    assert "No point has limits yet." in page(client, "/trends/signals/")
    assert "0 readings are too few to compare" in page(client, "/trends/common/")


def test_fall_has_its_own_causes(client: Client) -> None:
    cellar = house(rlu=lambda swab: calm(swab) * 4 + 20 if swab.turn.number < BAD else 1, points=1)
    client.force_login(cellar.brewer)
    shown = page(client, "/trends/signals/")
    assert "Falling readings" in shown
    assert "residue of detergent or sanitiser that dims the light" in shown
    assert "No point is getting worse." in shown


@pytest.mark.parametrize("address", ["/trends/signals/", "/trends/common/"])
def test_what_the_house_shares_is_for_head_brewer_and_owner(client: Client, address: str) -> None:
    cellar = Cellar()
    client.force_login(cellar.hand)
    assert client.get(address).status_code == 403


@pytest.mark.parametrize("points", [1, 3])
def test_signals_take_the_same_queries_for_one_point_and_three(
    client: Client, django_assert_num_queries, points: int
) -> None:
    cellar = house(points=points)
    standings(clock.now())
    client.force_login(cellar.brewer)
    for address, queries in (("/trends/signals/", 13), ("/trends/common/", 12)):
        with django_assert_num_queries(queries):
            client.get(address)


def test_sigmas_are_written_with_a_true_sign() -> None:
    assert [signed(value) for value in (0.04, -0.04, 1.26, -1.26)] == ["0.0", "0.0", "+1.3", "−1.3"]


def test_suspect_says_why() -> None:
    def rlu(swab: Swab) -> int:
        bad = swab.turn.vessel.name == "FV3" and swab.turn.number >= BAD
        return high(swab) if bad else calm(swab)

    house(rlu=rlu)
    now = clock.now()
    (suspect,) = compare(standings(now), until=now).shapes.suspects
    words = suspect_words(suspect)
    assert words.shape == "all points of one vessel"
    assert "readings average" in words.why
    assert "Without the worst point it is still +" in words.why
