"""The board as a page: who sees what of it, how it follows by itself, what it costs."""

from html.parser import HTMLParser
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from brewhygiene.regimes.models import StepWindow
from brewhygiene.turnarounds.models import StepRecord
from tests.board.scenes import HOUR, MINUTE, Now, crowd
from tests.evidence import unguarded
from tests.factories import make_user, make_vessel
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db

QUERIES = 12
# The last handover, once with the page and not each time that it asks again.
HANDOVER = 1
HTMX = {"HX-Request": "true"}


@pytest.fixture
def cellar() -> Now:
    return Now()


def text_of(response: HttpResponse) -> str:
    return response.content.decode()


def vessels_of(html: str) -> str:
    """The part of a page that follows by itself."""
    start = html.index('<section id="vessels"')
    return html[start : html.index("</section>", start) + len("</section>")]


def asked_again(client: Client, html: str, **more: Any) -> HttpResponse:
    """What the page's own next question is answered with."""

    class Find(HTMLParser):
        address = ""

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            found = dict(attrs).get("data-hx-get")
            self.address = self.address or found or ""

    finder = Find()
    finder.feed(vessels_of(html))
    return client.get(finder.address, headers=HTMX, **more)


def names_of(html: str) -> list[str]:
    """The vessels on the page, in its order."""

    class Names(HTMLParser):
        def __init__(self) -> None:
            super().__init__()
            self.names: list[str] = []
            self.inside = False

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            self.inside = dict(attrs).get("class") == "card-name" or (self.inside and tag == "a")

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
    with django_assert_num_queries(QUERIES + HANDOVER):
        html = text_of(client.get("/"))
    assert len(names_of(html)) == number + 1
    with django_assert_num_queries(QUERIES):
        assert asked_again(client, html).status_code in (200, 204)
    with django_assert_num_queries(QUERIES):
        assert len(names_of(text_of(client.get("/?wall")))) == {5: 6, 200: 16}[number]


def test_board_of_many_shows_every_status(cellar: Now) -> None:
    crowd(cellar, 22)
    html = text_of(signed_in(cellar.brewer).get("/"))
    assert [
        html.count(f'<li class="vessel-card status-{code}')
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
    assert html.count(" h overdue</strong>") >= 2


@pytest.mark.instants
def test_board_says_how_long_and_by_when(cellar: Now) -> None:
    cellar.emptied(now=cellar.at(2 * HOUR))
    html = text_of(signed_in(cellar.hand).get("/"))
    assert '<span class="card-since">2 h</span>' in html
    assert "Due in 22 h, by " in html
    assert "ticket" not in html


def test_board_marks_what_is_overdue_in_words(cellar: Now) -> None:
    cellar.emptied(now=cellar.at(26 * HOUR))
    html = text_of(signed_in(cellar.hand).get("/"))
    assert '<strong class="ticket">2 h overdue</strong>' in html
    assert '<span class="overdue-count">1 overdue</span>' in html


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
    assert vessels_of(fragment) in (vessels_of(page), vessels_of(again))
    assert fragment.strip() == vessels_of(fragment)


def test_board_tells_of_a_changed_status_once_and_in_one_sentence(cellar: Now) -> None:
    client = signed_in(cellar.hand)
    html = text_of(client.get("/"))
    cellar.cleaned_ago(HOUR)
    fragment = text_of(asked_again(client, html))
    news = f'<div data-hx-swap-oob="innerHTML:#news">{cellar.vessel.name}: to sample.</div>'
    assert news in fragment
    assert 'id="filters"' in fragment
    assert '<li class="vessel-card status-to_sample changed">' in fragment
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
    assert 'id="status-to_sample" href="?status=to_sample" aria-current="true"' in html
    assert "Status: to sample</button>" in html
    assert "1 vessel, to sample" in html
    nobody = text_of(client.get("/?kind=bright_tank&status=to_sample"))
    assert names_of(nobody) == []
    assert "No vessel has this status now." in nobody


def groups_of(html: str) -> dict[str, list[str]]:
    """The names under each heading of the page."""
    parts = html.split('<h2 class="group-title">')[1:]
    return {part.split("<")[0].strip(): names_of(part) for part in parts}


def test_board_puts_what_needs_this_person_first_and_the_rest_in_natural_order(
    cellar: Now,
) -> None:
    cellar.vessel.name = "FV 10"
    cellar.vessel.save()
    for name in ("FV 2", "BT 1"):
        make_vessel(name=name)
    cellar.emptied(now=cellar.at(2 * HOUR), vessel=make_vessel(name="FV 3"))
    cellar.emptied(now=cellar.at(30 * HOUR), vessel=make_vessel(name="FV 4"))
    cellar.started(
        cellar.emptied(now=cellar.at(HOUR), vessel=make_vessel(name="FV 5")), now=cellar.at(HOUR)
    )
    cellar.to_decide(vessel=make_vessel(name="FV 6"))
    assert groups_of(text_of(signed_in(cellar.hand).get("/"))) == {
        "Needs you now": ["FV 4", "FV 3"],
        "In progress": ["FV 6", "FV 5"],
        "Resting": ["BT 1", "FV 2", "FV 10"],
    }
    assert groups_of(text_of(signed_in(cellar.brewer).get("/"))) == {
        "Needs you now": ["FV 4", "FV 6", "FV 3"],
        "In progress": ["FV 5"],
        "Resting": ["BT 1", "FV 2", "FV 10"],
    }


@pytest.mark.parametrize("minutes, needs_you", [(44, False), (46, True)])
def test_step_over_its_maximum_needs_somebody_now(
    cellar: Now, minutes: int, needs_you: bool
) -> None:
    turnaround = cellar.emptied(now=cellar.at(2 * HOUR))
    clean = cellar.started(turnaround, now=cellar.at(HOUR))
    step = clean.version.steps.first()
    assert step is not None
    StepWindow.objects.filter(step=step, quantity="time_min").delete()
    StepWindow.objects.create(step=step, quantity="time_min", minimum=20, maximum=45, source="x")
    StepRecord.objects.create(
        clean=clean, step=step, started_at=cellar.at(minutes * MINUTE), started_by=cellar.hand
    )
    html = text_of(signed_in(cellar.hand).get("/"))
    assert ('data-reached="maximum"' in html, "Needs you now" in html) == (needs_you, needs_you)
    assert ("over the maximum of 45 min" in html) is needs_you


def test_board_shows_the_running_step_with_its_timer(
    cellar: Now, django_assert_num_queries: Any
) -> None:
    turnaround = cellar.emptied(now=cellar.at(HOUR))
    clean = cellar.started(turnaround, now=cellar.at(30 * MINUTE))
    step = clean.version.steps.first()
    assert step is not None
    record = StepRecord.objects.create(
        clean=clean, step=step, started_at=cellar.at(12 * MINUTE), started_by=cellar.hand
    )
    client = signed_in(cellar.hand)
    # The step's readings are read, and no fill is, since there is none.
    with django_assert_num_queries(QUERIES + 1 - 1 + HANDOVER):
        html = text_of(client.get("/"))
    assert f'<span class="card-step-name">{step.get_kind_display().capitalize()}</span>' in html
    timer = html.split("<span data-timer")[1].split("</span>")[0]
    assert f'data-started="{record.started_at.isoformat()}"' in timer
    assert timer.endswith(">12 min")
    assert asked_again(client, html).status_code == 204


def test_wall_shows_names_and_statuses_without_the_rooms(cellar: Now) -> None:
    cellar.emptied(now=cellar.at(2 * HOUR))
    html = text_of(signed_in(cellar.hand).get("/?wall"))
    assert names_of(html) == [cellar.vessel.name]
    assert "wall-dark" in html
    assert '<nav class="rooms"' not in html
    assert '<ul class="wall-cards across-1">' in html
    assert "wall-light" in text_of(signed_in(cellar.hand).get("/?wall=light"))


def test_wall_pages_through_more_than_fit(cellar: Now) -> None:
    for number in range(1, 19):
        make_vessel(name=f"FV {number}", order=1)
    client = signed_in(cellar.hand)
    html = text_of(client.get("/?wall"))
    assert names_of(html)[1:] == [f"FV {number}" for number in range(1, 16)]
    assert "<span>Page 1 of 2</span>" in html
    second = text_of(asked_again(client, html))
    assert names_of(second) == ["FV 16", "FV 17", "FV 18"]
    assert "<span>Page 2 of 2</span>" in second
    assert "#news" not in second
    assert names_of(text_of(asked_again(client, second))) == names_of(html)


def test_wall_that_fits_stays_as_it_is(cellar: Now) -> None:
    client = signed_in(cellar.hand)
    html = text_of(client.get("/?wall"))
    assert "Page 1" not in html
    assert asked_again(client, html).status_code == 204


def test_wall_is_for_whoever_stands_before_it(cellar: Now) -> None:
    cellar.to_decide()
    html = text_of(signed_in(cellar.hand).get("/?wall"))
    assert groups_of(html) == {"Needs you now": [cellar.vessel.name]}


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
    with unguarded(type(cellar.limits)):
        cellar.limits.delete()
    cellar.vessel.delete()
    html = text_of(signed_in(cellar.brewer).get("/"))
    assert "No vessels yet" in html
    assert f'<a class="button primary" href="{reverse("setup:index")}">' in html
    html = text_of(signed_in(cellar.hand).get("/"))
    assert "The head brewer adds vessels in the set-up." in html
    assert "Set up the cellar" not in html


def test_board_counts_the_overdue_among_those_it_shows(cellar: Now) -> None:
    cellar.emptied(now=cellar.at(30 * HOUR))
    client = signed_in(cellar.hand)
    assert '<span class="overdue-count">1 overdue</span>' in text_of(client.get("/?status=empty"))
    assert "overdue-count" not in text_of(client.get("/?status=held"))
