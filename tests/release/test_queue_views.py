"""The release queue as a page."""

from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.turnarounds.models import Turnaround
from tests.board.scenes import MINUTE, Now, crowd
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db

QUEUE_QUERIES = 11


@pytest.fixture
def cellar() -> Now:
    return Now()


def text_of(response: HttpResponse) -> str:
    return response.content.decode()


def address(name: str, turnaround: Turnaround) -> str:
    return reverse(f"release:{name}", args=[turnaround.pk])


@pytest.mark.parametrize("number", [11, 33])
def test_queue_takes_the_same_queries_for_one_and_for_three_of_each(
    cellar: Now, number: int, django_assert_num_queries: Any
) -> None:
    crowd(cellar, number)
    client = signed_in(cellar.brewer)
    with django_assert_num_queries(QUEUE_QUERIES):
        html = text_of(client.get(reverse("release:queue")))
    # To decide, held by a reading, held by a plate, lapsed, released.
    assert html.count('<li class="list-row') == 5 * number // 11


def test_queue_offers_each_role_what_is_its(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    decide = f'href="{address("decide", turnaround)}"'
    for user, may in ((cellar.brewer, True), (cellar.hand, False), (cellar.owner, False)):
        html = text_of(signed_in(user).get(reverse("release:queue")))
        assert (decide in html) is may
        assert ("Waiting for the head brewer" in html) is not may


def test_queue_shows_when_a_release_lapses_and_lets_the_cellar_fill(cellar: Now) -> None:
    turnaround = cellar.released_ago(20 * MINUTE)
    html = text_of(signed_in(cellar.hand).get(reverse("release:queue")))
    # Sanitised 40 min ago, of 4 h.
    assert "<strong>in 3 h 20 min</strong>" in html
    assert f'href="{address("fill", turnaround)}"' in html


def test_queue_is_empty_in_so_many_words(cellar: Now) -> None:
    html = text_of(signed_in(cellar.hand).get(reverse("release:queue")))
    assert "<h2>Nothing to decide</h2>" in html


def test_queue_follows_by_itself(cellar: Now) -> None:
    client = signed_in(cellar.hand)
    page = text_of(client.get(reverse("release:queue")))
    question = page.split('id="queue" data-hx-get="')[1].split('"')[0]
    htmx = {"HX-Request": "true"}
    assert client.get(question, headers=htmx).status_code in (204, 200)
    cellar.to_decide()
    fragment = text_of(client.get(question, headers=htmx))
    assert f'innerHTML:#news">{cellar.vessel.name}: to decide.</div>' in fragment
    assert '<span class="flag status-to_decide">' in fragment
    assert "<html" not in fragment
