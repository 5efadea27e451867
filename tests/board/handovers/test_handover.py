"""The end of a shift: what is half done, a note, and the next hand who reads it."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from brewhygiene.board.handovers import actions
from brewhygiene.board.handovers.models import Handover, HandoverRead
from brewhygiene.board.handovers.queries import half_done
from brewhygiene.people.models import User
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.turnarounds.models import StepRecord
from tests import clock
from tests.board.scenes import HOUR, MINUTE, Now, crowd
from tests.factories import acting, make_cellar_hand, make_owner, make_vessel
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db
PAGE = "/handover/"


@pytest.fixture
def cellar() -> Now:
    return Now()


@pytest.fixture
def priya() -> User:
    return make_cellar_hand(username="priya", full_name="Priya Lindqvist", initials="PL")


def words(cellar: Now) -> dict[str, str]:
    return {line.vessel: line.words for line in half_done(now=clock.now())}


def board(person: User) -> str:
    return signed_in(person).get("/").content.decode()


def test_running_step_says_how_far_it_is(cellar: Now) -> None:
    turnaround = cellar.emptied(now=cellar.at(HOUR))
    clean = cellar.started(turnaround, now=cellar.at(20 * MINUTE))
    step = clean.version.steps.first()
    assert step is not None
    StepRecord.objects.create(
        clean=clean, step=step, started_at=cellar.at(12 * MINUTE), started_by=cellar.hand
    )
    said = words(cellar)[cellar.vessel.name]
    assert said.startswith(f"{step.get_kind_display().capitalize()}: 12")
    assert "Next: " in said


def test_clean_that_runs_stands_first(cellar: Now) -> None:
    cellar.to_decide()
    other = make_vessel(name="FV 99")
    cellar.started(cellar.emptied(now=cellar.at(10 * MINUTE), vessel=other), now=cellar.at(MINUTE))
    assert list(words(cellar)) == ["FV 99", cellar.vessel.name]


def test_vessel_at_rest_is_not_half_done(cellar: Now) -> None:
    make_vessel(name="FV 9")
    assert "FV 9" not in words(cellar)
    cellar.to_decide()
    assert list(words(cellar)) == [cellar.vessel.name]


def test_handover_keeps_what_stood_then(cellar: Now, priya: User) -> None:
    turnaround = cellar.to_decide()
    signed_in(cellar.hand).post(PAGE, {"note": "Hose 2 lies out. "})
    cellar.decided(turnaround, now=clock.now())
    (kept,) = Handover.objects.get().lines
    assert (kept["vessel"], kept["status"]) == (cellar.vessel.name, "to_decide")
    page = signed_in(priya).get(PAGE).content.decode()
    assert "Hose 2 lies out." in page
    assert "From the last shift" in page


def test_next_hand_is_greeted_until_it_is_read(cellar: Now, priya: User) -> None:
    cellar.to_decide()
    one = actions.hand_over(by=acting(cellar.hand, now=clock.now()), note="Look at FV 2")
    assert "1 vessel half done, with a note." in " ".join(board(priya).split())
    client = signed_in(priya)
    assert client.post(f"/handover/{one.pk}/read/").status_code == 302
    assert HandoverRead.objects.get().read_by == priya
    assert "Handover from" not in board(priya)
    assert "Read by Priya Lindqvist" in client.get(PAGE).content.decode()


def test_own_and_old_handovers_greet_nobody(cellar: Now, priya: User) -> None:
    actions.hand_over(by=acting(cellar.hand, now=clock.now()))
    assert "Handover from" not in board(cellar.hand)
    assert "nothing half done" in " ".join(board(priya).split())
    clock.move_on(timedelta(hours=23, minutes=59))
    assert "Handover from" in board(priya)
    clock.move_on(timedelta(minutes=1))
    assert "Handover from" not in board(priya)


def test_last_handover_counts(cellar: Now, priya: User) -> None:
    first = actions.hand_over(by=acting(cellar.hand, now=clock.now()))
    actions.read_handover(by=acting(priya, now=clock.now()), handover=first)
    clock.move_on(timedelta(hours=8))
    actions.hand_over(by=acting(cellar.hand, now=clock.now()))
    assert "Handover from" in board(priya)


def test_owner_looks_and_is_not_greeted(cellar: Now) -> None:
    owner = make_owner()
    one = actions.hand_over(by=acting(cellar.hand, now=clock.now()))
    assert "Handover from" not in board(owner)
    client = signed_in(owner)
    assert client.get(PAGE).status_code == 200
    assert client.post(PAGE, {"note": "x"}).status_code == 403
    assert client.post(f"/handover/{one.pk}/read/").status_code == 403
    for act in (
        lambda by: actions.hand_over(by=by),
        lambda by: actions.read_handover(by=by, handover=one),
    ):
        with pytest.raises(NotAllowed):
            act(acting(owner))


def test_nobody_reads_their_own_or_reads_twice(cellar: Now, priya: User) -> None:
    one = actions.hand_over(by=acting(cellar.hand, now=clock.now()))
    with pytest.raises(Refusal) as own:
        actions.read_handover(by=acting(cellar.hand, now=clock.now()), handover=one)
    assert own.value.code == "own"
    actions.read_handover(by=acting(priya, now=clock.now()), handover=one)
    with pytest.raises(Refusal) as twice:
        actions.read_handover(by=acting(priya, now=clock.now()), handover=one)
    assert twice.value.code == "read"


def test_note_that_is_too_long_stays_in_its_box(cellar: Now) -> None:
    answer = signed_in(cellar.hand).post(PAGE, {"note": "x" * 2001})
    assert answer.status_code == 422
    assert "x" * 2001 in answer.content.decode()
    assert not Handover.objects.exists()


def test_same_form_sent_twice_hands_over_once(cellar: Now) -> None:
    client = signed_in(cellar.hand)
    for _ in range(2):
        client.post(PAGE, {"note": "once", "key": "k" * 32})
    assert Handover.objects.count() == 1


@pytest.mark.parametrize("number", [11, 40])
def test_page_costs_the_same_for_eleven_and_for_forty(
    cellar: Now, number: int, django_assert_num_queries: Any
) -> None:
    crowd(cellar, number)
    for _ in range(number):
        one = actions.hand_over(by=acting(cellar.hand, now=clock.now()))
    actions.read_handover(by=acting(cellar.brewer, now=clock.now()), handover=one)
    client = signed_in(cellar.hand)
    with django_assert_num_queries(16):
        client.get(PAGE)


def test_stranger_is_sent_to_sign_in() -> None:
    assert Client().get(PAGE)["Location"] == "/sign-in/?next=/handover/"
