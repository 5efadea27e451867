"""A vessel's page: its status, its points, its past, at a constant cost."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.cellar.models import Vessel
from brewhygiene.people.models import User
from tests.board.scenes import HOUR, MINUTE, Now
from tests.factories import make_point, make_vessel

pytestmark = pytest.mark.django_db

QUERIES = 18  # of a vessel in use


@pytest.fixture
def cellar() -> Now:
    return Now()


def page(user: User, vessel: Vessel, query: str = "") -> str:
    client = Client()
    client.force_login(user)
    response = client.get(reverse("board:vessel", args=[vessel.pk]) + query)
    assert response.status_code == 200
    return response.content.decode()


def test_vessel_page_sends_a_stranger_to_the_sign_in(cellar: Now) -> None:
    address = reverse("board:vessel", args=[cellar.vessel.pk])
    response = Client().get(address)
    assert (response.status_code, response.headers["Location"]) == (
        302,
        f"/sign-in/?next={address}",
    )


def test_vessel_page_of_nobody_is_not_found(cellar: Now) -> None:
    client = Client()
    client.force_login(cellar.hand)
    assert client.get("/vessels/987654/").status_code == 404


def test_vessel_page_offers_each_role_what_is_its(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    decide = f'class="button primary next" href="{reverse("release:decide", args=[turnaround.pk])}"'
    set_up = reverse("cellar:vessel", args=[cellar.vessel.pk])
    seen = {
        user: (decide in page(user, cellar.vessel), set_up in page(user, cellar.vessel))
        for user in (cellar.brewer, cellar.hand, cellar.owner)
    }
    assert seen == {
        cellar.brewer: (True, True),
        cellar.hand: (False, False),
        cellar.owner: (False, False),
    }


def test_vessel_page_of_a_new_vessel_says_what_is_not_on_record(cellar: Now) -> None:
    bare = make_vessel(points=0, vacuum_rating_mbar=None, diameter_m=None)
    html = page(cellar.hand, bare)
    for words in (
        "Not on record yet",
        "This vessel has no sampling point, so it cannot be released.",
        "No turnaround on record yet.",
        "No fill on record yet.",
        "No plate on record yet.",
        "<dt>Vacuum rating</dt><dd>not on record</dd>",
    ):
        assert words in html
    assert "Diameter" not in html


def test_vessel_page_shows_each_points_last_reading_with_its_meter(cellar: Now) -> None:
    make_point(cellar.vessel, name="Racking arm", order=1)
    turnaround = cellar.cleaned_ago(2 * HOUR)
    cellar.sampled_ago(turnaround, 90 * MINUTE, rlu=44)
    cellar.sampled_ago(turnaround, 80 * MINUTE, rlu=12)
    html = page(cellar.hand, cellar.vessel)
    assert '<td class="num main" data-unit="RLU">12</td>' in html
    assert f'<span class="under">{cellar.meter.name}</span></td>' in html
    assert 'data-unit="RLU">44' not in html
    assert html.count("no reading yet") == 1


def test_vessel_page_keeps_its_past(cellar: Now) -> None:
    turnaround = cellar.to_decide(ago=30 * HOUR, rlu=20)
    cellar.decided(
        turnaround,
        now=cellar.at(29 * HOUR),
        by=cellar.brewer,
        gate_reasons={"alerts": "Known drift of this point"},
    )
    cellar.filled(turnaround, now=cellar.at(28 * HOUR), batch="P-12")
    html = page(cellar.owner, cellar.vessel)
    history = html[html.index('id="history"') : html.index('id="fills"')]
    assert "Harrow Pale (invented) P-12" in history
    assert 'class="flag verdict-alert"' in history
    assert 'class="flag status-released"' in history
    assert "Mara Oduya" in history
    assert "Self-release" not in history


def test_vessel_page_marks_a_self_release_and_a_fill_without_release_from_then_on(
    cellar: Now,
) -> None:
    cellar.brewery.self_release_allowed = True
    cellar.brewery.save()
    first = cellar.cleaned_ago(40 * HOUR)
    cellar.sampled_ago(first, 39 * HOUR, by=cellar.brewer)
    cellar.decided(
        first, now=cellar.at(38 * HOUR), gate_reasons={"two_people": "Nobody else was in"}
    )
    cellar.filled(first, now=cellar.at(37 * HOUR))
    second = cellar.emptied(now=cellar.at(20 * HOUR))
    cellar.filled_without_release(second, ago=19 * HOUR)
    cellar.emptied(now=cellar.at(HOUR))
    html = page(cellar.hand, cellar.vessel)
    history = html[html.index('id="history"') : html.index('id="fills"')]
    assert history.count("<strong>Self-release</strong>") == 1
    assert history.count("Filled without a release") == 1
    assert "Wort was in the line before anyone asked (Mara Oduya)" in html
    assert "Filled without a release before" in html


def test_vessel_page_takes_the_same_queries_for_1_and_3_of_everything(
    cellar: Now, django_assert_num_queries: Any
) -> None:
    client = Client()
    client.force_login(cellar.brewer)
    address = reverse("board:vessel", args=[cellar.vessel.pk])
    for days in (9, 6, 3):
        turnaround = cellar.released_ago(timedelta(days=days))
        cellar.filled(turnaround, now=cellar.at(timedelta(days=days) - 5 * MINUTE))
        cellar.plate_sent(turnaround, ago=timedelta(days=days) - 5 * MINUTE)
        with django_assert_num_queries(QUERIES):
            assert client.get(address).status_code == 200
        make_point(cellar.vessel, required_for_release=False, order=9)


def test_vessel_page_pages_a_long_history(cellar: Now) -> None:
    for days in range(13, 1, -1):
        turnaround = cellar.emptied(now=cellar.at(timedelta(days=days)))
        cellar.filled_without_release(turnaround, ago=timedelta(days=days) - HOUR)
    first = page(cellar.hand, cellar.vessel)
    assert "Page 1 of 2" in first
    assert 'href="?page=2#history"' in first
    second = page(cellar.hand, cellar.vessel, "?page=2")
    history = second[second.index('id="history"') : second.index('id="fills"')]
    assert history.count("<tr>") - 1 == 2
    # A page that is none shows the nearest.
    assert "Page 2 of 2" in page(cellar.hand, cellar.vessel, "?page=99")
    assert "Page 1 of 2" in page(cellar.hand, cellar.vessel, "?page=nonsense")


def test_vessel_held_by_a_plate_can_still_be_emptied(cellar: Now) -> None:
    plate = cellar.positive_plate()
    html = page(cellar.hand, cellar.vessel)
    assert "Close positive plate: waiting for the head brewer" in html
    assert reverse("turnarounds:empty", args=[cellar.vessel.pk]) in html
    assert reverse("plates:plate", args=[plate.pk]) in html
    assert "<strong>not closed</strong>" in html


def test_vessel_page_shows_the_photos_of_the_vessel_and_of_its_points(cellar: Now) -> None:
    cellar.vessel.photo = "vessels/fv.jpg"
    cellar.vessel.save()
    point = cellar.point
    point.photo, point.where_to_find = "points/cone.jpg", "Below the cone"
    point.save()
    html = page(cellar.hand, cellar.vessel)
    assert f'src="{reverse("cellar:vessel_photo", args=[cellar.vessel.pk])}"' in html
    assert f'src="{reverse("cellar:point_photo", args=[point.pk])}"' in html
    assert "<figcaption>Point 1: Below the cone</figcaption>" in html
