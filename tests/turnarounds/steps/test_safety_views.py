"""Safety checks and the start of a step, as its screen shows them."""

import pytest

from brewhygiene.turnarounds.models import (
    Clean,
    SafetyAcknowledgement,
    StepRecord,
)
from tests import clock
from tests.evidence import unguarded
from tests.turnarounds.floor import Floor, counted, errors
from tests.turnarounds.steps.sending import at, url, words

pytestmark = pytest.mark.django_db
CAUSTIC = ["vented", "purged", "air_path", "vacuum_valve", "caustic", "hot", "hot_cold"]


def test_a_step_shows_its_cautions_before_it_can_be_started(floor: Floor) -> None:
    page = floor.client.get(url("step", None, *at(floor.at_step(2), 2)))
    assert [c.code for c, _ in page.context["safety_form"].ticks()] == CAUSTIC
    text = words(page)
    assert "Burns skin and eyes." in text
    assert "Green folder, page 4" in text
    assert "do not replace the safety data sheet" in text
    assert ">Start step</button>" not in text


def test_a_tick_left_out_is_said_and_the_others_are_kept(floor: Floor) -> None:
    step = at(floor.at_step(2), 2)
    before = counted(SafetyAcknowledgement, StepRecord)
    answer = floor.client.post(url("safety", None, *step), {"codes": CAUSTIC[1:]})
    assert answer.status_code == 422
    assert errors(answer, "safety_form") == {
        "codes": ["Tick every line. The step cannot start before."]
    }
    assert [ticked for _, ticked in answer.context["safety_form"].ticks()] == [False] + [True] * 6
    assert counted(SafetyAcknowledgement, StepRecord) == before


def test_a_step_is_started_once_every_line_is_ticked(floor: Floor) -> None:
    step = at(floor.at_step(2), 2)
    shown = words(floor.client.get(url("step", None, *step)))
    assert ">Confirm and start step</button>" in shown
    for _ in range(2):  # sent twice by a lost answer
        floor.client.post(url("safety", None, *step), {"codes": CAUSTIC, "key": "k" * 64})
    page = floor.client.get(url("step", None, *step))
    assert page.context["screen"].state == "running"
    assert "Confirmed by Jonas Feld" in words(page)
    assert StepRecord.objects.filter(step_id=step[1]).count() == 1


def test_step_that_ran_without_the_timer_is_confirmed_and_not_started(floor: Floor) -> None:
    step = at(floor.at_step(2), 2)
    answer = floor.client.post(
        url("safety", None, *step), {"codes": CAUSTIC, "without_timer": "yes"}
    )
    assert answer.headers["Location"] == url("state_step", None, *step)
    assert SafetyAcknowledgement.objects.filter(step_id=step[1]).count() == 1
    assert not StepRecord.objects.filter(step_id=step[1]).exists()


def test_checks_of_a_clean_that_was_done_start_nothing(floor: Floor) -> None:
    clean = floor.at_step(2)
    entered = {"entered_at": clock.now(), "entered_by": floor.hand, "entered_reason": "x"}
    with unguarded():
        Clean.objects.filter(pk=clean.pk).update(**entered)
    step = at(clean, 2)
    floor.client.post(url("safety", None, *step), {"codes": CAUSTIC})
    assert not StepRecord.objects.filter(step_id=step[1]).exists()


def test_a_step_is_not_started_before_its_checks(floor: Floor) -> None:
    step = at(floor.at_step(2), 2)
    before = counted(StepRecord)
    answer = floor.client.post(url("start_step", None, *step))
    assert answer.status_code == 422
    assert errors(answer, "key_form") == {
        "__all__": ["Confirm the safety checks of this step first."]
    }
    assert counted(StepRecord) == before


def test_a_step_started_twice_by_one_form_is_started_once(floor: Floor) -> None:
    step = at(floor.at_step(1), 1)
    codes = [
        floor.client.post(url("start_step", None, *step), {"key": "tap"}).status_code
        for _ in range(2)
    ]
    assert (codes, StepRecord.objects.count()) == ([302, 302], 1)


def test_a_step_out_of_its_turn_says_what_comes_first(floor: Floor) -> None:
    clean = floor.at_step(2)
    page = floor.client.get(url("step", None, *at(clean, 4)))
    assert "Do caustic first." in words(page)
    answer = floor.client.post(url("start_step", None, *at(clean, 4)))
    assert errors(answer, "key_form") == {"__all__": ["Do caustic first."]}


def test_cold_water_after_a_hot_step_asks_for_the_vent(floor: Floor) -> None:
    page = floor.client.get(url("step", None, *at(floor.at_step(3, minutes_ago=90), 3)))
    assert [c.code for c, _ in page.context["safety_form"].ticks()] == ["cold_after_hot"]
