"""The contact time of a step: what begins and ends it, and what its minutes are judged by."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.contact import Contact, contact_of
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import StepReading, StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.models.flow import FlowLoss
from brewhygiene.turnarounds.readings.actions import correct_reading
from brewhygiene.turnarounds.steps import actions
from brewhygiene.turnarounds.steps.flow import actions as flow_actions
from tests import clock
from tests.factories import acting
from tests.turnarounds.floor import Floor, counted
from tests.turnarounds.steps.sending import url, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    """The hot caustic, at least 20 min, running for 30 minutes."""
    return floor.running_caustic(minutes_ago=30)


def ago(minutes: float) -> datetime:
    return clock.now() - timedelta(minutes=minutes)


def read(floor: Floor, record: StepRecord, *, at: float, **values: float) -> None:
    """Strength, temperature and flow, ``at`` minutes ago, inside their windows if not given."""
    for quantity, value in (
        {"concentration": 2, "temperature_c": 75, "flow_l_min": 150} | values
    ).items():
        basis = "ww" if quantity == "concentration" else ""
        floor.read(record, quantity, value, basis=basis, now=ago(at))


def end(floor: Floor, record: StepRecord, *, at: float = 0) -> StepReading:
    actions.end_step(by=acting(floor.hand, now=ago(at)), record=record)
    return StepReading.objects.get(record=record, quantity="time_min")


def contact(floor: Floor, record: StepRecord, *, at: float = 0) -> Contact:
    item = floor.progress(record.clean).of(record.step)
    assert item.record is not None
    found = contact_of(item.record, item.step, until=ago(at))
    assert found is not None
    return found


def decide(floor: Floor, *, at: float, disposition: str, **values: Any) -> None:
    deviation_actions.dispose_deviation(
        by=acting(floor.hand, now=ago(at)),
        deviation=Deviation.objects.get(disposition=""),
        disposition=disposition,
        **values,
    )


def test_contact_begins_with_the_reading_and_not_with_the_tap(
    floor: Floor, running: StepRecord
) -> None:
    read(floor, running, at=26)
    timed = end(floor, running)
    assert (timed.value, timed.judged_value, timed.verdict) == (30, 26, "within")
    assert Deviation.objects.count() == 0
    assert contact(floor, running).once_words == "strength and temperature read once"
    entry = Entry.objects.get(verb="end step", values__step=str(running.step))
    assert (entry.values["minutes"], entry.values["contact_minutes"]) == (30, 26)


@pytest.mark.parametrize(("at", "verdict"), [(20, "within"), (19.9, "below")])
def test_a_contact_time_below_the_minimum_is_a_deviation(
    floor: Floor, running: StepRecord, at: float, verdict: str
) -> None:
    read(floor, running, at=at)
    timed = end(floor, running)
    assert (timed.value, timed.judged_value, timed.verdict) == (30, at, verdict)
    assert [(d.kind, d.description) for d in Deviation.objects.all()] == (
        []
        if verdict == "within"
        else [("below", "Contact time in window 19.9 min: below 20 min (timer 30 min)")]
    )


def test_it_begins_when_the_last_of_both_is_read(floor: Floor, running: StepRecord) -> None:
    floor.read(running, "concentration", 2, basis="ww", now=ago(29))
    assert contact(floor, running, at=20).minutes == 0
    assert contact(floor, running).stopped_by == "Temperature not read yet"
    floor.read(running, "temperature_c", 75, now=ago(18))
    assert contact(floor, running).minutes == 18
    assert contact(floor, running).stopped_by == ""


def test_it_pauses_while_the_flow_is_lost(floor: Floor, running: StepRecord) -> None:
    read(floor, running, at=28)
    flow_actions.lose_flow(by=acting(floor.hand, now=ago(20)), record=running)
    assert contact(floor, running, at=15).stopped_by == "Flow lost"
    assert contact(floor, running, at=15).minutes == 8
    flow_actions.regain_flow(by=acting(floor.brewer, now=ago(10)), record=running)
    assert contact(floor, running).minutes == 18
    loss = FlowLoss.objects.get()
    assert (loss.lost_by, loss.back_by) == (floor.hand, floor.brewer)
    assert Entry.objects.get(verb="record flow back").values["lost_s"] == 600
    timed = end(floor, running)
    assert (timed.value, timed.judged_value, timed.verdict) == (30, 18, "below")


def test_it_begins_again_after_a_top_up_that_was_read(floor: Floor, running: StepRecord) -> None:
    read(floor, running, at=29, concentration=1.2)
    assert contact(floor, running).stopped_by == "Strength outside its window"
    decide(floor, at=27, disposition="top_up", added_kg=5)
    assert contact(floor, running).stopped_by == "Strength not read again yet"
    floor.read(running, "concentration", 2, basis="ww", now=ago(22))
    assert contact(floor, running).minutes == 22
    assert contact(floor, running).once_words == "temperature read once"
    assert end(floor, running).verdict == "within"


def test_heating_up_breaks_a_run_that_was_inside(floor: Floor, running: StepRecord) -> None:
    read(floor, running, at=29)
    floor.read(running, "temperature_c", 50, now=ago(19))
    decide(floor, at=18, disposition="heat")
    floor.read(running, "temperature_c", 75, now=ago(8))
    assert [run.length_s for run in contact(floor, running).runs.runs] == [600, 480]
    assert contact(floor, running).minutes == 10
    assert contact(floor, running).once_words == "strength read once"


def test_a_correction_that_moves_a_reading_outside_is_found_after_the_end(
    floor: Floor, running: StepRecord
) -> None:
    read(floor, running, at=29)
    floor.read(running, "temperature_c", 76, now=ago(12))
    assert end(floor, running).verdict == "within"
    first = StepReading.objects.filter(quantity="temperature_c").order_by("pk")[0]
    correct_reading(
        by=acting(floor.hand, now=clock.now()), reading=first, value=45, reason="Misread"
    )
    assert [d.description for d in Deviation.objects.order_by("pk")] == [
        "Temperature 45 °C, at the return: below 60 °C",
        "Contact time in window 12 min: below 20 min (timer 30 min)",
    ]


def test_a_correction_counts_from_when_the_first_one_was_read(
    floor: Floor, running: StepRecord
) -> None:
    read(floor, running, at=27, temperature_c=7.5)
    slip = StepReading.objects.get(quantity="temperature_c")
    correct_reading(by=acting(floor.hand, now=ago(5)), reading=slip, value=75, reason="Mistyped")
    assert contact(floor, running).minutes == 27


def test_a_step_left_unread_is_judged_by_its_timer(floor: Floor, running: StepRecord) -> None:
    """What was not read has a deviation of its own."""
    floor.read(running, "concentration", 2, basis="ww", now=ago(5))
    timed = end(floor, running)
    assert (timed.judged_value, timed.verdict) == (30, "within")
    assert [d.description for d in Deviation.objects.all()] == [
        "Temperature was not read",
        "Flow was not read",
    ]
    assert contact(floor, running).minutes == 0


def test_a_timer_over_its_maximum_is_a_deviation_beside_a_short_contact(floor: Floor) -> None:
    running = floor.running_caustic(minutes_ago=46)
    read(floor, running, at=10)
    assert end(floor, running).verdict == "below"
    assert [(d.kind, d.description) for d in Deviation.objects.all()] == [
        ("below", "Contact time in window 10 min: below 20 min (timer 46 min)"),
        ("forgotten", "Timer ran 46 min: above 45 min"),
    ]


def test_a_timer_over_its_maximum_is_judged_by_itself(floor: Floor) -> None:
    running = floor.running_caustic(minutes_ago=46)
    read(floor, running, at=40)
    assert end(floor, running).verdict == "above"
    assert [d.description for d in Deviation.objects.all()] == [
        "Time 46 min, at the end: above 45 min"
    ]


def test_an_extended_step_adds_its_contact(floor: Floor, running: StepRecord) -> None:
    read(floor, running, at=27)
    assert end(floor, running, at=15).judged_value == 12
    decide(floor, at=14, disposition="extend")
    more = floor.running_step(running.clean, 2, now=ago(10))
    assert contact(floor, more).minutes == 22
    assert end(floor, more, at=2).judged_value == 20


def test_flow_is_lost_once_and_back_once(floor: Floor, running: StepRecord) -> None:
    by = acting(floor.hand, now=clock.now())
    with pytest.raises(Refusal) as refused:
        flow_actions.regain_flow(by=by, record=running)
    assert refused.value.code == "flow_not_lost"
    flow_actions.lose_flow(by=by, record=running)
    with pytest.raises(Refusal) as refused:
        flow_actions.lose_flow(by=by, record=running)
    assert refused.value.code == "flow_already_lost"


def test_flow_of_an_ended_step_is_refused(floor: Floor, running: StepRecord) -> None:
    read(floor, running, at=29)
    end(floor, running)
    for act in (flow_actions.lose_flow, flow_actions.regain_flow):
        with pytest.raises(Refusal) as refused:
            act(by=acting(floor.hand, now=clock.now()), record=running)
        assert refused.value.code == "step_ended"


def test_one_tap_loses_the_flow_and_one_brings_it_back(floor: Floor, running: StepRecord) -> None:
    read(floor, running, at=29)
    page = words(floor.client.get(url("step", running)))
    assert "Flow lost" in page
    args = [running.clean_id, running.step_id]
    answer = floor.client.post(reverse("turnarounds:flow_lost", args=args))
    assert answer.headers["Location"] == url("step", running)
    page = words(floor.client.get(url("step", running)))
    assert ". Flow lost" in page
    assert "Flow back" in page
    floor.client.post(reverse("turnarounds:flow_back", args=args))
    assert FlowLoss.objects.get().back_at is not None
    before = counted(FlowLoss)
    answer = floor.client.post(reverse("turnarounds:flow_back", args=args))
    assert answer.status_code == 422
    assert "The flow is not recorded as lost." in words(answer)
    assert counted(FlowLoss) == before


def test_the_screen_counts_down_by_contact(floor: Floor, running: StepRecord) -> None:
    screen = floor.client.get(url("step", running)).context["screen"]
    assert screen.clock.left_words == "20:00 until the minimum"
    assert screen.clock.contact_words == "Contact time 0:00. Strength not read yet"
    assert not screen.clock.counts
    read(floor, running, at=8)
    screen = floor.client.get(url("step", running)).context["screen"]
    assert screen.clock.counted_s == pytest.approx(480, abs=30)
    assert screen.clock.ahead_s == pytest.approx(1320, abs=1)
    assert screen.clock.counts
    assert not screen.clock.enough


def test_readings_that_are_swapped_in_bring_the_clock(floor: Floor, running: StepRecord) -> None:
    answer = floor.client.get(url("step", running), headers={"HX-Request": "true"})
    assert 'id="clock-facts" data-hx-swap-oob="true"' in answer.content.decode()
    whole = floor.client.get(url("step", running)).content.decode()
    assert "hx-swap-oob" not in whole
    assert whole.count('id="clock-facts"') == 1
