"""A step that ran without the timer: its times are stated, bounded, and marked."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import Clean, StepReading, StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.readings.actions import correct_reading
from brewhygiene.turnarounds.steps import actions
from brewhygiene.turnarounds.steps.safety import required_codes
from tests import clock
from tests.factories import acting
from tests.turnarounds.floor import Floor, errors
from tests.turnarounds.steps.sending import at, url, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def clean(floor: Floor) -> Clean:
    """Emptied an hour ago; its pre-rinse ended 55 minutes ago; caustic is next, and safe."""
    clean = floor.at_step(2, minutes_ago=60)
    step = floor.progress(clean).current.step
    actions.acknowledge_safety(
        by=acting(floor.hand, now=clock.now()),
        clean=clean,
        step=step,
        codes=required_codes(clean, step),
    )
    return clean


def ago(minutes: float) -> datetime:
    return clock.now() - timedelta(minutes=minutes)


def state(floor: Floor, clean: Clean, *, begins: datetime, ends: datetime, **more: Any) -> Any:
    return actions.state_step(
        by=acting(floor.hand, now=clock.now()),
        clean=clean,
        step=clean.version.steps.get(order=2),
        started_at=begins,
        ended_at=ends,
        **more,
    )


def test_stated_time_within_its_window_still_asks_for_a_reason(floor: Floor, clean: Clean) -> None:
    record = state(floor, clean, begins=ago(50), ends=ago(20), agent_lot="C-77")
    assert (record.started_at, record.ended_at) == (ago(50), ago(20))
    assert record.stated_at == clock.now()
    reading = StepReading.objects.get(quantity="time_min", record=record)
    assert (reading.value, reading.source, reading.verdict) == (30, "stated", "within")
    stated = reading.deviation
    assert (stated.kind, stated.description) == ("stated", "Time 30 min: stated afterwards")
    assert stated.disposition == ""
    entry = Entry.objects.get(verb="state step")
    assert (entry.values["minutes"], entry.values["source"]) == (30, "stated")


@pytest.mark.parametrize(
    ("begins", "ends", "field", "code"),
    [
        (56.1, 20, "started_at", "before_its_turn"),
        (50, -0.1, "ended_at", "in_the_future"),
        (50, 50, "ended_at", "end_before_start"),
        (50, 51, "ended_at", "end_before_start"),
    ],
)
def test_times_in_which_it_cannot_have_run_are_refused(
    floor: Floor, clean: Clean, begins: float, ends: float, field: str, code: str
) -> None:
    before = StepRecord.objects.count()
    with pytest.raises(Refusal) as refused:
        state(floor, clean, begins=ago(begins), ends=ago(ends))
    assert (refused.value.field, refused.value.code) == (field, code)
    assert StepRecord.objects.count() == before


def test_the_minute_in_which_the_step_before_it_ended_is_its_earliest_start(
    floor: Floor, clean: Clean
) -> None:
    earlier = clean.step_records.get().ended_at
    assert earlier is not None
    typed = earlier.replace(second=0, microsecond=0)
    assert state(floor, clean, begins=typed, ends=ago(20)).started_at == earlier


def test_a_step_that_runs_by_the_timer_is_not_stated(floor: Floor, clean: Clean) -> None:
    step = clean.version.steps.get(order=2)
    actions.start_step(by=acting(floor.hand, now=ago(2)), clean=clean, step=step)
    with pytest.raises(Refusal) as refused:
        state(floor, clean, begins=ago(50), ends=ago(20))
    assert refused.value.code == "step_running"


def test_a_step_is_not_stated_before_its_safety_checks(floor: Floor) -> None:
    clean = floor.at_step(2, minutes_ago=60)
    with pytest.raises(Refusal) as refused:
        state(floor, clean, begins=ago(50), ends=ago(20))
    assert refused.value.code == "unsafe"


def test_a_stated_extension_adds_to_what_ran(floor: Floor, clean: Clean) -> None:
    step = clean.version.steps.get(order=2)
    record = actions.start_step(by=acting(floor.hand, now=ago(40)), clean=clean, step=step)
    actions.end_step(by=acting(floor.hand, now=ago(30)), record=record)
    short = Deviation.objects.filter(kind="below").get()
    deviation_actions.dispose_deviation(
        by=acting(floor.hand, now=ago(29)), deviation=short, disposition="extend"
    )
    more = state(floor, clean, begins=ago(28), ends=ago(16))
    assert more.readings.get(quantity="time_min").value == 22


def test_minutes_are_never_corrected(floor: Floor, clean: Clean) -> None:
    record = state(floor, clean, begins=ago(50), ends=ago(45))
    reading = record.readings.get(quantity="time_min")
    with pytest.raises(Refusal) as refused:
        correct_reading(
            by=acting(floor.hand, now=clock.now()), reading=reading, value=30, reason="Typo"
        )
    assert (refused.value.field, refused.value.code) == ("value", "time_corrected")


def test_the_page_states_a_step_and_keeps_what_was_typed(floor: Floor, clean: Clean) -> None:
    step = at(clean, 2)
    page = floor.client.get(url("step", None, *step))
    assert url("state_step", None, *step) in page.content.decode()
    form = floor.client.get(url("state_step", None, *step)).context["form"]
    assert [form[name].value() for name in ("started_at", "ended_at")] == [None, None]
    shown = timezone.localtime(ago(50)).strftime("%Y-%m-%dT%H:%M")
    data = {"started_at": shown, "ended_at": shown, "agent_lot": "C-78"}
    answer = floor.client.post(url("state_step", None, *step), data)
    assert answer.status_code == 422
    assert errors(answer) == {"ended_at": ["Enter an end after the start."]}
    assert answer.context["form"]["agent_lot"].value() == "C-78"
    data["ended_at"] = timezone.localtime(ago(20)).strftime("%Y-%m-%dT%H:%M")
    answer = floor.client.post(url("state_step", None, *step), data)
    assert answer.headers["Location"] == url("step", None, *step)
    page = words(floor.client.get(answer.headers["Location"]))
    assert "Time 30 min: stated afterwards" in page
    assert "Stated afterwards, " in page


def test_the_page_is_for_a_step_whose_turn_it_is(floor: Floor, clean: Clean) -> None:
    answer = floor.client.get(url("state_step", None, *at(clean, 3)))
    assert answer.headers["Location"] == url("step", None, *at(clean, 2))
