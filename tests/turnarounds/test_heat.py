"""Heat that a vessel keeps from one step, and from one clean, to the next."""

from typing import Any

import pytest

from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.residues import hot_before
from brewhygiene.turnarounds.steps.safety import required_codes
from tests import clock
from tests.factories import acting
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor() -> Floor:
    return Floor()


def stopped_in_hot_caustic(floor: Floor) -> Any:
    record = floor.running_caustic()
    clean = record.clean
    actions.stop_clean(by=acting(floor.hand, now=clock.now()), clean=clean, reason="Pump failed")
    return clean


def first_step(clean: Any) -> tuple[Any, Any]:
    loaded = cleans_with_records().get(pk=clean.pk)
    return loaded, loaded.version.steps.all()[0]


def test_first_rinse_after_a_clean_stopped_in_hot_caustic_is_not_cold_into_hot(
    floor: Floor,
) -> None:
    clean = stopped_in_hot_caustic(floor)
    again = floor.started(clean.turnaround, now=clock.now())
    loaded, step = first_step(again)
    assert hot_before(loaded, step)
    assert "cold_after_hot" in required_codes(loaded, step)


def test_first_rinse_of_a_first_clean_asks_for_no_such_check(floor: Floor) -> None:
    loaded, step = first_step(floor.started(floor.emptied(now=clock.now()), now=clock.now()))
    assert not hot_before(loaded, step)
    assert "cold_after_hot" not in required_codes(loaded, step)


def test_step_read_hot_is_hot_for_the_step_after_it(floor: Floor) -> None:
    clean = floor.at_step(1)
    record = floor.running_step(clean, 1, now=clock.now())
    second = clean.version.steps.get(order=2)

    def hot() -> bool:
        return hot_before(cleans_with_records().get(pk=clean.pk), second)

    floor.read(record, "temperature_c", 44.9)
    assert not hot()
    floor.read(record, "temperature_c", 45)
    assert hot()
