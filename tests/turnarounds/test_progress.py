"""Where a clean stands after corrections, extensions and decisions."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import (
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.progress import minutes_of, residue_before, unread_quantities
from brewhygiene.turnarounds.readings import actions as step_reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from tests import clock
from tests.factories import acting, add_step, make_agent, make_peracetic, make_version
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor() -> Floor:
    return Floor()


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    return floor.running_caustic(minutes_ago=10)


def decide(floor: Floor, deviation: Deviation, disposition: str, **values: Any) -> None:
    deviation_actions.dispose_deviation(
        by=acting(floor.hand, now=clock.now()),
        deviation=deviation,
        disposition=disposition,
        **values,
    )


def end(floor: Floor, record: StepRecord) -> None:
    step_actions.end_step(by=acting(floor.hand, now=clock.now()), record=record)


def correct(floor: Floor, reading, value: float) -> None:
    step_reading_actions.correct_reading(
        by=acting(floor.hand, now=clock.now()), reading=reading, value=value, reason="Mistyped"
    )


def state(floor: Floor, record: StepRecord) -> str:
    return floor.progress(record.clean).of(record.step).state


def test_an_attempt_given_up_has_to_be_repeated_although_its_reading_was_put_right(
    floor: Floor, running: StepRecord
) -> None:
    """Else a step would count as done that ran for ten of its twenty minutes."""
    mistyped = floor.read(running, "concentration", 0.2, basis="ww")
    decide(floor, Deviation.objects.get(), "repeat")
    correct(floor, mistyped, 2.0)
    assert state(floor, running) == "again"


def test_a_late_correction_of_an_earlier_attempt_is_decided_on(
    floor: Floor, running: StepRecord
) -> None:
    first = floor.read(running, "concentration", 2, basis="ww")
    floor.read(running, "temperature_c", 20)
    decide(floor, Deviation.objects.get(), "repeat")
    again = floor.running_step(running.clean, 2, now=clock.now())
    for quantity, value in (("temperature_c", 75), ("flow_l_min", 150)):
        floor.read(again, quantity, value)
    floor.read(again, "concentration", 2, basis="ww")
    later = clock.now() + timedelta(minutes=25)
    step_actions.end_step(by=acting(floor.hand, now=later), record=again)
    assert state(floor, running) == "done"
    correct(floor, first, 0.5)
    assert state(floor, running) == "deviation"


def extended(floor: Floor, record: StepRecord) -> StepRecord:
    """The next attempt, which prolongs the one that is open to decision."""
    decide(floor, Deviation.objects.filter(disposition="").first(), "extend")
    step_actions.start_step(
        by=acting(floor.hand, now=clock.now()), clean=record.clean, step=record.step
    )
    return floor.progress(record.clean).of(record.step).record


def test_minutes_of_three_attempts_count_together(floor: Floor, running: StepRecord) -> None:
    end(floor, running)
    second = extended(floor, running)
    end(floor, second)
    third = extended(floor, running)
    until = third.started_at + timedelta(minutes=5)
    assert minutes_of(third, until=until) == pytest.approx(15, abs=0.2)


def test_readings_of_every_attempt_that_is_prolonged_count(
    floor: Floor, running: StepRecord
) -> None:
    floor.read(running, "temperature_c", 75)
    end(floor, running)
    second = extended(floor, running)
    floor.read(second, "flow_l_min", 150)
    end(floor, second)
    third = extended(floor, running)
    assert unread_quantities(third, running.step) == ["concentration"]


def test_a_progress_reads_extensions_without_queries(
    floor: Floor, running: StepRecord, django_assert_num_queries
) -> None:
    end(floor, running)
    latest = extended(floor, running)
    with django_assert_num_queries(0):
        minutes_of(latest, until=clock.now())


@pytest.mark.parametrize("what", ["extend", "top_up"])
def test_a_strength_put_right_has_to_be_read_again(
    floor: Floor, running: StepRecord, what: str
) -> None:
    floor.read(running, "concentration", 1.0, basis="ww")
    amount = {"added_kg": 5.5} if what == "top_up" else {}
    decide(floor, Deviation.objects.get(), what, **amount)
    record = floor.progress(running.clean).of(running.step).record
    assert "concentration" in unread_quantities(record, running.step)
    floor.read(running, "concentration", 2.0, basis="ww")
    record = floor.progress(running.clean).of(running.step).record
    assert "concentration" not in unread_quantities(record, running.step)


def test_what_was_put_right_and_not_read_again_is_a_deviation(
    floor: Floor, running: StepRecord
) -> None:
    floor.read(running, "temperature_c", 40)
    decide(floor, Deviation.objects.get(), "heat")
    end(floor, running)
    assert "Temperature was not read again after it was put right" in list(
        Deviation.objects.filter(disposition="").values_list("description", flat=True)
    )


def test_an_accepted_strength_need_not_be_read_again(floor: Floor, running: StepRecord) -> None:
    floor.read(running, "concentration", 1.0, basis="ww")
    decide(floor, Deviation.objects.get(), "accept", reason="Cold rinse before")
    record = floor.progress(running.clean).of(running.step).record
    assert "concentration" not in unread_quantities(record, running.step)


CAUSTIC_FIRST = ("caustic", "rinse", "acid", "rinse", "sanitiser", "rinse")
ACID_FIRST = ("acid", "rinse", "caustic", "rinse")


@pytest.mark.parametrize(
    ("kinds", "left"),
    [
        (CAUSTIC_FIRST, [None, "caustic", "caustic", "acid", "acid", None]),
        (ACID_FIRST, [None, "acid", "acid", "caustic"]),
        (("rinse", "drain"), [None, None]),
    ],
)
def test_a_rinse_is_after_the_agent_before_it(
    floor: Floor, kinds: tuple[str, ...], left: list[str | None]
) -> None:
    agents = {
        "caustic": make_agent(),
        "acid": make_agent(kind="acid", active_substance="HNO3"),
        "sanitiser": make_peracetic(),
    }
    floor.version = make_version(steps=False)
    steps = [add_step(floor.version, kind, agent=agents.get(kind)) for kind in kinds]
    clean = floor.started(floor.emptied())
    assert [residue_before(clean, step) for step in steps] == left


@pytest.mark.parametrize(
    ("quantity", "unread"), [(None, ["air_m3_h", "co2_pct"]), ("co2_pct", []), ("air_m3_h", [])]
)
def test_of_what_shows_that_a_tank_is_vented_one_is_enough(
    floor: Floor, quantity: str | None, unread: list[str]
) -> None:
    floor.version = make_version(steps=False)
    add_step(floor.version, "vent", end_criterion="vented")
    record = floor.running_step(floor.started(floor.emptied()), 1, now=clock.now())
    if quantity is not None:
        floor.read(record, quantity, 1)
    item = floor.progress(record.clean).of(record.step)
    assert item.record is not None
    assert sorted(unread_quantities(item.record, item.step)) == unread
