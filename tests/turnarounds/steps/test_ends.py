"""The end of a rinse is what its readings say, not what is ticked."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.models import StepRecord
from tests import clock
from tests.factories import add_step, make_version
from tests.turnarounds.floor import Floor, errors
from tests.turnarounds.steps.sending import end, send, url, words

pytestmark = pytest.mark.django_db


def rinsing(floor: Floor, end_criterion: str) -> StepRecord:
    """A clean of one rinse that runs to this end, started five minutes ago."""
    floor.version = make_version(steps=False)
    add_step(floor.version, StepKind.RINSE, end_criterion=end_criterion)
    then = clock.now() - timedelta(minutes=5)
    clean = floor.started(floor.emptied(now=then), now=then)
    return floor.running_step(clean, 1, now=then)


def refused(floor: Floor, record: StepRecord) -> str:
    answer = end(floor, record, end_criterion_met="yes", note="Kept")
    assert answer.status_code == 422
    assert answer.context["form"]["note"].value() == "Kept"
    record.refresh_from_db()
    assert record.ended_at is None
    (message,) = errors(answer)["end_criterion_met"]
    return str(message)


def accepted(floor: Floor, record: StepRecord, said: str = "yes") -> bool | None:
    assert end(floor, record, end_criterion_met=said).status_code == 302
    record.refresh_from_db()
    assert record.ended_at is not None
    return record.end_criterion_met


def test_what_shows_the_end_is_asked_on_the_steps_own_screen(floor: Floor) -> None:
    record = rinsing(floor, "neutral")
    page = floor.client.get(url("step", record))
    assert "To read: pH" in words(page)
    assert page.context["screen"].quantities == [("ph", "pH", False)]


def test_an_end_is_not_reached_before_it_was_read(floor: Floor) -> None:
    record = rinsing(floor, "neutral")
    assert refused(floor, record) == (
        "Read the pH of the rinse first. If it cannot be read, choose No."
    )
    assert accepted(floor, record, "no") is False


@pytest.mark.parametrize(
    ("ph", "why"),
    [(11.3, "above 8: caustic is left"), (8.1, "above 8: caustic is left"),
     (5.9, "below 6: acid is left")],
)  # fmt: skip
def test_a_yes_that_its_reading_contradicts_is_refused(floor: Floor, ph: float, why: str) -> None:
    record = rinsing(floor, "neutral")
    send(floor, record, "ph", str(ph))
    assert refused(floor, record) == (
        f"The last reading was pH {ph:g}, {why}. The end is: pH of the rinse 6 to 8. "
        "Rinse on and read again, or choose No."
    )
    send(floor, record, "ph", "7.9")
    assert accepted(floor, record) is True


@pytest.mark.parametrize("ph", [6.0, 8.0])
def test_the_bounds_belong_to_the_window(floor: Floor, ph: float) -> None:
    record = rinsing(floor, "neutral")
    send(floor, record, "ph", str(ph))
    assert accepted(floor, record) is True


def supply(floor: Floor, record: StepRecord, quantity: str, value: float, **when: Any) -> None:
    floor.read(record, quantity, value, stage="supply", **when)


def test_the_taps_own_ph_is_asked_for_and_compared_with(floor: Floor) -> None:
    record = rinsing(floor, "tap_ph")
    send(floor, record, "ph", "9.3")
    assert refused(floor, record).startswith("The supply water's pH of today is not read.")
    supply(floor, record, "ph", 7.4)
    assert "more than 0.5 from the supply's pH 7.4: caustic is left" in refused(floor, record)
    supply(floor, record, "ph", 9.2)
    assert accepted(floor, record) is True


def test_a_supply_of_yesterday_is_none_of_today(floor: Floor) -> None:
    record = rinsing(floor, "tap_conductivity")
    supply(floor, record, "conductivity_ms_cm", 0.48, now=clock.now() - timedelta(hours=24))
    floor.read(record, "conductivity_ms_cm", 0.50)
    assert "conductivity of today is not read" in refused(floor, record)
    moment = clock.now() - timedelta(hours=23, minutes=59)
    supply(floor, record, "conductivity_ms_cm", 0.48, now=moment)
    assert accepted(floor, record) is True


def test_the_supplys_reading_is_not_the_rinses(floor: Floor) -> None:
    record = rinsing(floor, "tap_ph")
    supply(floor, record, "ph", 7.4)
    assert refused(floor, record).startswith("Read the pH of the rinse first.")


def test_what_is_only_looked_at_needs_no_instrument(floor: Floor) -> None:
    assert accepted(floor, rinsing(floor, "runs_clear")) is True


def test_the_sites_own_supply_stands_in_on_a_day_without_a_reading(floor: Floor) -> None:
    floor.brewery.supply_ph, floor.brewery.supply_conductivity_ms_cm = 9.2, 0.48
    floor.brewery.save()
    record = rinsing(floor, "tap_ph")
    send(floor, record, "ph", "8.6")
    assert "more than 0.5 from the supply's pH 9.2: acid is left" in refused(floor, record)
    send(floor, record, "ph", "9.3")
    assert accepted(floor, record) is True


def test_a_reading_of_the_day_counts_before_the_sites_own(floor: Floor) -> None:
    floor.brewery.supply_conductivity_ms_cm = 0.48
    floor.brewery.save()
    record = rinsing(floor, "tap_conductivity")
    supply(floor, record, "conductivity_ms_cm", 0.30)
    floor.read(record, "conductivity_ms_cm", 0.50)
    assert "above the supply's 0.3" in refused(floor, record)
    supply(floor, record, "conductivity_ms_cm", 0.47)
    assert accepted(floor, record) is True
