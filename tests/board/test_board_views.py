"""The board as a page: who sees what of it, how it follows by itself, what it costs."""

from html.parser import HTMLParser
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from brewhygiene.people.models import User
from tests.board.scenes import HOUR, MINUTE, Now, crowd
from tests.factories import make_user, make_vessel

pytestmark = pytest.mark.django_db

QUERIES = 11
HTMX = {"HX-Request": "true"}


@pytest.fixture
def cellar() -> Now:
    return Now()


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def text_of(response: HttpResponse) -> str:
    return response.content.decode()


def plates_of(html: str) -> str:
    """The part of a page that follows by itself."""
    start = html.index('<section id="plates"')
    return html[start : html.index("</section>", start) + len("</section>")]


def asked_again(client: Client, html: str, **more: Any) -> HttpResponse:
    """What the page's own next question is answered with."""

    class Find(HTMLParser):
        address = ""

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            found = dict(attrs).get("data-hx-get")
            self.address = self.address or found or ""

    finder = Find()
    finder.feed(plates_of(html))
    return client.get(finder.address, headers=HTMX, **more)


def names_of(html: str) -> list[str]:
    """The vessels on the page, in its order."""

    class Names(HTMLParser):
        def __init__(self) -> None:
            super().__init__()
            self.names: list[str] = []
            self.inside = False

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            self.inside = dict(attrs).get("class") == "plate-name" or (self.inside and tag == "a")

        def handle_data(self, data: str) -> None:
            if self.inside and data.strip():
                self.names.append(data.strip())
                self.inside = False

    names = Names()
    names.feed(html)
    return names.names


def test_board_sends_a_stranger_to_the_sign_in() -> None:
    response = Client().get("/")
    assert response.status_code == 302
    assert response.url == "/sign-in/?next=/"  # type: ignore[attr-defined]


def test_board_whose_session_has_ended_goes_to_the_sign_in_as_a_whole() -> None:
    response = Client().get(
        "/?wall=dark&seen=x-1",
        headers={**HTMX, "HX-Current-URL": "http://testserver/?wall"},
    )
    assert response.status_code == 200
    assert response.headers["HX-Redirect"] == "/sign-in/?next=/%3Fwall"
    assert response.content == b""


def test_board_shows_every_role_its_own_next_action(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    decide = reverse("release:decide", args=[turnaround.pk])
    for user, links in ((cellar.brewer, True), (cellar.hand, False), (cellar.owner, False)):
        html = text_of(signed_in(user).get("/"))
        assert (f'href="{decide}"' in html) is links
        assert ("Hold or release: waiting for the head brewer" in html) is not links


def test_board_is_shown_to_a_person_without_a_role_but_offers_nothing(cellar: Now) -> None:
    cellar.emptied(now=cellar.at(HOUR))
    html = text_of(signed_in(make_user()).get("/"))
    assert names_of(html) == [cellar.vessel.name]
    assert 'class="button" href="/turnarounds/' not in html


@pytest.mark.parametrize("number", [5, 200])
def test_board_takes_the_same_queries_for_5_and_200_vessels(
    cellar: Now, number: int, django_assert_num_queries: Any
) -> None:
    crowd(cellar, number)
    client = signed_in(cellar.brewer)
    with django_assert_num_queries(QUERIES):
        html = text_of(client.get("/"))
    assert len(names_of(html)) == number + 1
    with django_assert_num_queries(QUERIES):
        assert asked_again(client, html).status_code in (200, 204)
    with django_assert_num_queries(QUERIES):
        assert len(names_of(text_of(client.get("/?wall")))) == number + 1


def test_board_of_many_shows_every_status(cellar: Now) -> None:
    crowd(cellar, 22)
    html = text_of(signed_in(cellar.brewer).get("/"))
    assert [
        html.count(f'<li class="plate status-{code}')
        for code in (
            "in_use",
            "empty",
            "cleaning",
            "to_sample",
            "to_decide",
            "held",
            "released",
            "lapsed",
            "out_of_service",
        )
    ] == [2, 5, 2, 2, 2, 4, 2, 2, 2]
    assert html.count(" late") >= 2


@pytest.mark.instants
def test_board_says_how_long_and_by_when(cellar: Now) -> None:
    cellar.emptied(now=cellar.at(2 * HOUR))
    html = text_of(signed_in(cellar.hand).get("/"))
    assert '<span class="plate-since">2 h</span>' in html
    assert "in 22 h, by " in html
    assert "ticket" not in html


def test_board_marks_what_is_late_in_words(cellar: Now) -> None:
    cellar.emptied(now=cellar.at(26 * HOUR))
    html = text_of(signed_in(cellar.hand).get("/"))
    assert '<strong class="ticket">2 h late</strong>' in html
    assert '<span class="late-count">1 late</span>' in html


def test_board_answers_204_while_nothing_is_new(cellar: Now) -> None:
    client = signed_in(cellar.hand)
    html = text_of(client.get("/"))
    again = asked_again(client, html)
    assert again.status_code == 204
    assert again.content == b""


def test_board_gives_its_fragment_as_the_page_has_it(cellar: Now) -> None:
    crowd(cellar, 11)
    client = signed_in(cellar.brewer)
    page = text_of(client.get("/"))
    letters = page.split("seen=")[1].split('"')[0].split("-")[1]
    fragment = text_of(client.get(f"/?seen=older-{letters}", headers=HTMX))
    again = text_of(client.get("/"))
    assert plates_of(fragment) in (plates_of(page), plates_of(again))
    assert fragment.strip() == plates_of(fragment)


def test_board_tells_of_a_changed_status_once_and_in_one_sentence(cellar: Now) -> None:
    client = signed_in(cellar.hand)
    html = text_of(client.get("/"))
    cellar.cleaned_ago(HOUR)
    fragment = text_of(asked_again(client, html))
    news = f'<div data-hx-swap-oob="innerHTML:#news">{cellar.vessel.name}: to sample.</div>'
    assert news in fragment
    assert 'id="filters"' in fragment
    assert '<li class="plate status-to_sample changed">' in fragment
    after = asked_again(client, fragment)
    assert after.status_code == 204 or "#news" not in text_of(after)


def test_board_varies_by_who_asks(cellar: Now) -> None:
    response = signed_in(cellar.hand).get("/")
    assert "HX-Request" in response.headers["Vary"]


def test_board_filters_by_kind_and_status_with_counts(cellar: Now) -> None:
    bright = make_vessel(name="BT 1", kind="bright_tank")
    cellar.emptied(now=cellar.at(HOUR), vessel=bright)
    cellar.cleaned_ago(HOUR)
    client = signed_in(cellar.hand)
    assert names_of(text_of(client.get("/?kind=bright_tank"))) == ["BT 1"]
    html = text_of(client.get("/?status=to_sample"))
    assert names_of(html) == [cellar.vessel.name]
    assert 'href="?status=to_sample" aria-current="true"' in html
    assert "1 vessel, to sample" in html
    nobody = text_of(client.get("/?kind=bright_tank&status=to_sample"))
    assert names_of(nobody) == []
    assert "No vessel is like that just now." in nobody


def test_board_is_in_the_cellars_order_or_by_urgency(cellar: Now) -> None:
    first, second, third = cellar.vessel, make_vessel(order=1), make_vessel(order=2)
    cellar.emptied(now=cellar.at(2 * HOUR), vessel=second)
    cellar.emptied(now=cellar.at(30 * HOUR), vessel=third)
    client = signed_in(cellar.hand)
    by_place = [first.name, second.name, third.name]
    assert names_of(text_of(client.get("/"))) == by_place
    assert names_of(text_of(client.get("/?sort=urgent"))) == [third.name, second.name, first.name]


def test_wall_shows_names_and_statuses_without_the_rooms(cellar: Now) -> None:
    cellar.emptied(now=cellar.at(2 * HOUR))
    html = text_of(signed_in(cellar.hand).get("/?wall"))
    assert names_of(html) == [cellar.vessel.name]
    assert "wall-dark" in html
    assert '<nav class="rooms"' not in html
    assert "crowd-2" in html
    assert "wall-light" in text_of(signed_in(cellar.hand).get("/?wall=light"))


def test_wall_follows_by_itself_as_a_wall(cellar: Now) -> None:
    client = signed_in(cellar.hand)
    html = text_of(client.get("/?wall"))
    cellar.cleaned_ago(HOUR)
    fragment = text_of(asked_again(client, html))
    assert 'class="wall-sheet"' in fragment
    assert 'id="filters"' not in fragment
    assert f"{cellar.vessel.name}: to sample." in fragment


def test_a_fill_without_release_stands_out_while_it_is_in_and_ever_after(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    cellar.filled_without_release(turnaround, ago=5 * MINUTE)
    client = signed_in(cellar.hand)
    html = text_of(client.get("/"))
    assert '<p class="unreleased">Filled without a release</p>' in html
    assert '<p class="unreleased">Filled without a release</p>' in text_of(client.get("/?wall"))
    cellar.emptied(now=cellar.at(MINUTE))
    html = text_of(client.get("/"))
    assert '<p class="unreleased before">Filled without a release before</p>' in html


def test_empty_cellar_leads_the_head_brewer_to_the_set_up(cellar: Now) -> None:
    cellar.limits.delete()
    cellar.vessel.delete()
    html = text_of(signed_in(cellar.brewer).get("/"))
    assert "No vessels yet" in html
    assert f'<a class="button primary next" href="{reverse("setup:index")}">' in html
    html = text_of(signed_in(cellar.hand).get("/"))
    assert "The head brewer writes them down in the set-up." in html
    assert "Set up the cellar" not in html


def test_board_counts_the_late_among_those_it_shows(cellar: Now) -> None:
    cellar.emptied(now=cellar.at(30 * HOUR))
    client = signed_in(cellar.hand)
    assert '<span class="late-count">1 late</span>' in text_of(client.get("/?status=empty"))
    assert "late-count" not in text_of(client.get("/?status=held"))
