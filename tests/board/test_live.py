"""What a page asks every two seconds: two numbers, without a session and without a person."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from brewhygiene.board.handovers.actions import hand_over
from brewhygiene.ledger.models import Entry
from brewhygiene.turnarounds.models import Turnaround
from tests import clock
from tests.board.scenes import Now
from tests.factories import acting
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Now:
    return Now()


def asked(client: Client | None = None, **query: str) -> tuple[int, str]:
    answer = (client or Client()).get("/now/", query)
    return answer.status_code, answer.content.decode()


def test_nothing_recorded_is_a_nought() -> None:
    Entry.objects.all()  # an empty house
    assert asked() == (200, "0")


def test_number_grows_with_every_entry_of_whatever_kind(cellar: Now) -> None:
    _, before = asked()
    hand_over(by=acting(cellar.hand, now=clock.now()))
    assert asked() == (200, str(int(before) + 1))


def test_what_was_seen_is_answered_with_nothing(cellar: Now) -> None:
    _, said = asked()
    assert asked(seen=said) == (204, "")
    hand_over(by=acting(cellar.hand, now=clock.now()))
    assert asked(seen=said)[0] == 200


def test_revision_of_the_turnaround_that_was_asked_for(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    turnaround.refresh_from_db()
    last = Entry.objects.order_by("-number").values_list("number", flat=True)[0]
    said = f"{last} {turnaround.revision}"
    assert asked(turnaround=str(turnaround.pk)) == (200, said)
    assert asked(turnaround=str(turnaround.pk), seen=said) == (204, "")
    cellar.decided(turnaround, now=clock.now())
    later = Turnaround.objects.get(pk=turnaround.pk)
    assert later.revision > turnaround.revision
    assert asked(turnaround=str(turnaround.pk), seen=said)[1].split()[1] == str(later.revision)


@pytest.mark.parametrize("pk", ["0", "99", "-1", "x", "9" * 30])
def test_turnaround_that_is_not_there_breaks_nothing(cellar: Now, pk: str) -> None:
    status, said = asked(turnaround=pk)
    assert status == 200
    assert said.split()[1:] in ([], ["0"])


def test_question_costs_one_query_or_two_and_no_session(
    cellar: Now, django_assert_num_queries: Any
) -> None:
    client = signed_in(cellar.hand)
    turnaround = cellar.to_decide()
    with django_assert_num_queries(1):
        asked(client)
    with django_assert_num_queries(2):
        asked(client, turnaround=str(turnaround.pk))
    with django_assert_num_queries(2):
        asked(turnaround=str(turnaround.pk))


def test_nothing_is_kept_of_the_answer_and_no_cookie_set(cellar: Now) -> None:
    answer = signed_in(cellar.hand).get("/now/")
    assert answer["Cache-Control"] == "no-store"
    assert not answer.cookies


def test_pages_of_one_turnaround_say_with_which_revision_they_were_made(cellar: Now) -> None:
    turnaround = cellar.emptied(now=cellar.at(timedelta(hours=1)))
    clean = cellar.started(turnaround, now=cellar.at(timedelta(minutes=30)))
    turnaround.refresh_from_db()
    mark = f'data-live-turnaround="{turnaround.pk}" data-live-revision="{turnaround.revision}"'
    step = clean.version.steps.first()
    assert step is not None
    client = signed_in(cellar.hand)
    for address in (
        f"/turnarounds/{turnaround.pk}/",
        f"/cleans/{clean.pk}/",
        f"/cleans/{clean.pk}/steps/{step.pk}/",
    ):
        assert mark in client.get(address).content.decode(), address


@pytest.mark.parametrize("address", ["/", "/?wall", "/sample/", "/release/"])
def test_pages_of_the_whole_cellar_follow_too(cellar: Now, address: str) -> None:
    html = signed_in(cellar.brewer).get(address).content.decode()
    assert html.count("data-live=") == 1
