"""The one next thing to do: each kind of it, for each kind of person."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.urls import reverse

from brewhygiene.board.cards import card_of
from brewhygiene.board.next_step import NextStep
from brewhygiene.board.queries import vessels_for_board
from brewhygiene.cellar.models import Vessel
from brewhygiene.people.models import User
from brewhygiene.people.permissions import held_permissions
from brewhygiene.release.queries import states_of
from brewhygiene.turnarounds import actions as turnaround_actions
from tests.board.scenes import HOUR, MINUTE, Now
from tests.factories import acting, make_point

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Now:
    return Now()


def step_for(cellar: Now, user: User, vessel: Vessel | None = None) -> NextStep:
    found = vessels_for_board().filter(pk=(vessel or cellar.vessel).pk)
    (state,) = states_of(found, now=cellar.now)
    return card_of(state, may=held_permissions(user).__contains__, now=cellar.now).next


def nothing(cellar: Now) -> str:
    return reverse("turnarounds:empty", args=[cellar.vessel.pk])


def emptied(cellar: Now) -> str:
    turnaround = cellar.emptied(now=cellar.at(HOUR))
    return reverse("turnarounds:regime", args=[turnaround.pk])


def cleaning(cellar: Now) -> str:
    clean = cellar.started(cellar.emptied(now=cellar.at(HOUR)), now=cellar.at(HOUR))
    return reverse("turnarounds:current_step", args=[clean.pk])


def to_sample(cellar: Now) -> str:
    turnaround = cellar.cleaned_ago(HOUR)
    return reverse("atp:sample", args=[turnaround.pk, cellar.point.pk])


def over_action(cellar: Now) -> str:
    turnaround = cellar.to_decide(rlu=90)
    return reverse("turnarounds:regime", args=[turnaround.pk])


def lapsed(cellar: Now) -> str:
    turnaround = cellar.released_ago(6 * HOUR)
    return reverse("release:sanitise", args=[turnaround.pk])


def opened(cellar: Now) -> str:
    turnaround = cellar.released_ago()
    by = acting(cellar.hand, now=cellar.at(MINUTE))
    turnaround_actions.record_opening(by=by, turnaround=turnaround, reason="Looked in")
    return reverse("release:resanitise", args=[turnaround.pk])


@pytest.mark.parametrize(
    ("scene", "text"),
    [
        (nothing, "Record emptying"),
        (emptied, "Start clean"),
        (cleaning, "Continue clean"),
        (to_sample, "Sample Point 1"),
        (over_action, "Find cause and re-clean"),
        (lapsed, "Sanitise before filling"),
        (opened, "Re-sanitise"),
    ],
)
def test_cellar_work_is_for_the_cellar_and_the_head_brewer(
    cellar: Now, scene: Callable[[Now], str], text: str
) -> None:
    url = scene(cellar)
    assert step_for(cellar, cellar.hand) == NextStep(text, url=url)
    assert step_for(cellar, cellar.brewer) == NextStep(text, url=url)
    assert step_for(cellar, cellar.owner) == NextStep(text, waiting_for="the cellar")


def test_a_decision_waits_for_the_head_brewer(cellar: Now) -> None:
    turnaround = cellar.to_decide()
    url = reverse("release:decide", args=[turnaround.pk])
    waiting = NextStep("Hold or release", waiting_for="the head brewer")
    assert step_for(cellar, cellar.brewer) == NextStep("Hold or release", url=url)
    assert step_for(cellar, cellar.hand) == waiting
    assert step_for(cellar, cellar.owner) == waiting


def test_a_released_vessel_is_filled_next(cellar: Now) -> None:
    turnaround = cellar.released_ago()
    url = reverse("release:fill", args=[turnaround.pk])
    assert step_for(cellar, cellar.hand) == NextStep("Record filling", url=url)
    assert step_for(cellar, cellar.owner) == NextStep("Record filling", waiting_for="the cellar")


def test_a_positive_plate_is_answered_by_the_head_brewer(cellar: Now) -> None:
    plate = cellar.positive_plate()
    url = reverse("plates:plate", args=[plate.pk])
    text = "Close positive plate"
    assert step_for(cellar, cellar.brewer) == NextStep(text, url=url)
    assert step_for(cellar, cellar.hand) == NextStep(text, waiting_for="the head brewer")


def test_a_lapse_after_a_waived_action_is_cleaned_not_resanitised(cellar: Now) -> None:
    turnaround = cellar.to_decide(ago=6 * HOUR, rlu=90)
    reasons = {"nothing_over_action": "The swab was touched", "two_people": "-"}
    cellar.decided(turnaround, now=cellar.at(5 * HOUR), gate_reasons=reasons)
    step = step_for(cellar, cellar.hand)
    assert step.text == "Re-clean"
    assert step.url == reverse("turnarounds:regime", args=[turnaround.pk])
    assert step.why == ("A reading is over the action limit. Re-clean the vessel instead.")


def test_a_vessel_out_of_service_asks_for_nothing(cellar: Now) -> None:
    cellar.vessel.out_of_service_since = cellar.at(timedelta(days=1))
    cellar.vessel.out_of_service_reason = "Gasket"
    cellar.vessel.save()
    step = NextStep("Return it to service in the set-up")
    assert step_for(cellar, cellar.brewer) == step


def test_the_second_point_is_sampled_after_the_first(cellar: Now) -> None:
    second = make_point(cellar.vessel, name="Racking arm", order=1)
    turnaround = cellar.cleaned_ago(HOUR)
    cellar.sampled_ago(turnaround, 30 * MINUTE)
    url = reverse("atp:sample", args=[turnaround.pk, second.pk])
    assert step_for(cellar, cellar.hand) == NextStep("Sample Racking arm", url=url)
