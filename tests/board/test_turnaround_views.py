"""A turnaround's page: the one next thing, and what was done so far."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.people.models import User
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.models import Turnaround
from tests.board.scenes import HOUR, MINUTE, Now
from tests.factories import acting, make_point

pytestmark = pytest.mark.django_db

QUERIES = 47


@pytest.fixture
def cellar() -> Now:
    return Now()


def page(user: User, turnaround: Turnaround) -> str:
    client = Client()
    client.force_login(user)
    response = client.get(reverse("board:turnaround", args=[turnaround.pk]))
    assert response.status_code == 200
    return response.content.decode()


def the_next(html: str) -> list[str]:
    """The largest buttons of a page; there is to be one."""
    return [
        part.split("</a>")[0].split(">")[-1]
        for part in html.split('<a class="button primary next"')[1:]
    ]


def test_turnaround_page_sends_a_stranger_to_the_sign_in(cellar: Now) -> None:
    turnaround = cellar.emptied(now=cellar.at(HOUR))
    response = Client().get(reverse("board:turnaround", args=[turnaround.pk]))
    assert response.status_code == 302


def test_turnaround_page_always_has_one_next_action(cellar: Now) -> None:
    turnaround = cellar.emptied(now=cellar.at(100 * MINUTE))
    assert the_next(page(cellar.hand, turnaround)) == ["Start clean"]
    clean = cellar.started(turnaround, now=cellar.at(95 * MINUTE))
    assert the_next(page(cellar.hand, turnaround)) == ["Continue clean"]
    cellar.run(clean, now=cellar.at(95 * MINUTE))
    assert the_next(page(cellar.hand, turnaround)) == ["Sample Point 1"]
    cellar.sampled_ago(turnaround, 60 * MINUTE)
    assert the_next(page(cellar.brewer, turnaround)) == ["Hold or release"]
    cellar.decided(turnaround, now=cellar.at(50 * MINUTE))
    html = page(cellar.hand, turnaround)
    assert the_next(html) == ["Record filling"]
    assert "Lapses" in html
    cellar.filled(turnaround, now=cellar.at(5 * MINUTE))
    html = page(cellar.hand, turnaround)
    assert the_next(html) == []
    assert "<dt>Closed</dt>" in html


def test_turnaround_page_says_that_the_decision_waits_for_the_head_brewer(cellar: Now) -> None:
    html = page(cellar.hand, cellar.to_decide())
    assert the_next(html) == []
    assert "Hold or release: waiting for the head brewer<" in html


def test_turnaround_page_of_a_held_vessel_says_why_and_what_now(cellar: Now) -> None:
    html = page(cellar.hand, cellar.to_decide(rlu=90))
    assert "Point 1: 90 RLU, over the action limit" in html
    assert the_next(html) == ["Find cause and re-clean"]


def test_turnaround_page_says_why_a_lapse_is_not_resanitised(cellar: Now) -> None:
    turnaround = cellar.to_decide(ago=6 * HOUR, rlu=90)
    cellar.decided(
        turnaround,
        now=cellar.at(5 * HOUR),
        gate_reasons={"nothing_over_action": "The swab was touched"},
    )
    html = page(cellar.hand, turnaround)
    assert "A reading is over the action limit. Re-clean the vessel instead." in html
    assert the_next(html) == ["Re-clean"]


def test_turnaround_page_tells_what_was_done_the_latest_first(cellar: Now) -> None:
    make_point(cellar.vessel, name="Racking arm", order=1)
    turnaround = cellar.cleaned_ago(90 * MINUTE)
    cellar.sampled_ago(turnaround, 60 * MINUTE)
    cellar.plate_sent(turnaround, ago=55 * MINUTE)
    turnaround_actions.record_opening(
        by=acting(cellar.hand, now=cellar.at(50 * MINUTE)),
        turnaround=turnaround,
        reason="Looked at the spray ball",
    )
    cellar.decided(turnaround, "hold", now=cellar.at(40 * MINUTE))
    html = page(cellar.owner, turnaround)
    told = html[html.index('<ol class="timeline"') :]
    order = [
        "Held",
        "Not sure of it",
        "Opened",
        "Looked at the spray ball",
        "Plate sent: Point 1",
        "Point 1: 0 RLU",
        "Clean finished",
        "2 of 2 steps",
        "Clean started",
        "Emptied",
        "Beer before: Harrow Pale (invented)",
    ]
    places = [told.index(words) for words in order]
    assert places == sorted(places)
    assert "Mara Oduya" in told
    assert "Jonas Feld" in told


def test_turnaround_page_keeps_a_corrected_reading_in_sight(cellar: Now) -> None:
    from brewhygiene.atp.readings import actions as reading_actions

    turnaround = cellar.cleaned_ago(HOUR)
    first = cellar.sampled_ago(turnaround, 30 * MINUTE, rlu=8)
    reading_actions.correct_result(
        by=acting(cellar.hand, now=cellar.at(29 * MINUTE)),
        result=first,
        rlu=3,
        reason="Read upside down",
    )
    html = page(cellar.hand, turnaround)
    assert "<s>Point 1: 8 RLU</s>" in html
    assert '<span class="event-word">corrected</span>' in html
    assert "Corrects the earlier reading: Read upside down" in html


def test_turnaround_page_tells_a_reading_when_it_was_taken(cellar: Now) -> None:
    turnaround = cellar.cleaned_ago(2 * HOUR)
    cellar.sampled_ago(turnaround, 10 * MINUTE, rlu=8, taken_at=cellar.at(HOUR + 10 * MINUTE))
    turnaround_actions.record_opening(
        by=acting(cellar.hand, now=cellar.at(30 * MINUTE)),
        turnaround=turnaround,
        reason="Looked at the spray ball",
    )
    html = page(cellar.hand, turnaround)
    told = html[html.index('<ol class="timeline"') :]
    assert told.index("Opened") < told.index("Point 1: 8 RLU") < told.index("Clean finished")
    assert "Recorded on" in told


def test_turnaround_page_offers_each_role_its_other_actions(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    links = {
        "opened": reverse("turnarounds:opened", args=[turnaround.pk]),
        "plate": reverse("plates:send", args=[turnaround.pk]),
        "gates": reverse("release:decide", args=[turnaround.pk]),
        "irregular": reverse("release:fill_without_release", args=[turnaround.pk]),
        "record": reverse("reports:record", args=[turnaround.pk]),
    }
    offered = {
        user: {name for name, link in links.items() if f'href="{link}"' in page(user, turnaround)}
        for user in (cellar.hand, cellar.brewer, cellar.owner)
    }
    assert offered == {
        cellar.hand: {"opened", "plate", "record"},
        cellar.brewer: {"opened", "plate", "gates", "irregular", "record"},
        cellar.owner: {"gates", "record"},
    }


def test_turnaround_page_closed_by_a_fill_without_release_stands_out(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    cellar.filled_without_release(turnaround)
    html = page(cellar.hand, turnaround)
    assert html.count('<p class="unreleased">Filled without a release</p>') == 1
    assert "Wort was in the line before anyone asked" in html
    assert "Signed by Mara Oduya" in html
    assert 'class="event status-in_use loud"' in html


def test_turnaround_page_of_an_earlier_turnaround_is_not_about_the_vessel_now(cellar: Now) -> None:
    earlier = cellar.released_ago(30 * HOUR)
    cellar.filled(earlier, now=cellar.at(29 * HOUR))
    cellar.emptied(now=cellar.at(HOUR))
    html = page(cellar.hand, earlier)
    assert the_next(html) == []
    assert "<dt>Closed</dt>" in html


def test_turnaround_page_takes_the_same_queries_for_1_and_3_readings(
    cellar: Now, django_assert_num_queries: Any
) -> None:
    for order in (1, 2):
        make_point(cellar.vessel, order=order)
    turnaround = cellar.cleaned_ago(HOUR)
    client = Client()
    client.force_login(cellar.brewer)
    address = reverse("board:turnaround", args=[turnaround.pk])
    for point in cellar.vessel.points.order_by("order"):
        cellar.sampled_ago(turnaround, 30 * MINUTE, point=point)
        cellar.plate_sent(turnaround, ago=20 * MINUTE, point=point)
        with django_assert_num_queries(QUERIES):
            assert client.get(address).status_code == 200


def test_turnaround_page_lets_a_vessel_be_cleaned_while_something_else_comes_first(
    cellar: Now,
) -> None:
    plate = cellar.positive_plate()
    turnaround = cellar.emptied(now=cellar.at(5 * MINUTE))
    html = page(cellar.hand, turnaround)
    assert "Close positive plate: waiting for the head brewer<" in html
    assert f'href="{reverse("turnarounds:regime", args=[turnaround.pk])}">Start clean</a>' in html
    assert the_next(page(cellar.brewer, turnaround)) == ["Close positive plate"]
    assert plate.vessel == turnaround.vessel
