"""A logger file that shows less flow than set: contact pauses, and goes on once it is back."""

from collections.abc import Sequence

import pytest

from brewhygiene.turnarounds.contact import Contact, contact_of
from brewhygiene.turnarounds.models import StepReading, StepRecord
from brewhygiene.turnarounds.steps.flow import actions as flow_actions
from tests.evidence import unguarded
from tests.factories import acting
from tests.turnarounds.logger.files import EVERY_S, Logged, place

pytestmark = pytest.mark.django_db
EVERY_MIN = EVERY_S / 60


@pytest.fixture
def scene() -> Logged:
    return Logged()


def with_flow(*parts: tuple[float, float]) -> Sequence[tuple[float, ...]]:
    """Ten minutes of cold water, then caustic with its minutes and flows in ``parts``."""
    return [(10, 16, 150, 0.5), *((minutes, 75, flow, 92) for minutes, flow in parts)]


def contact(scene: Logged, record: StepRecord, *, at: float) -> Contact:
    item = scene.progress(record.clean).of(record.step)
    assert item.record is not None
    found = contact_of(item.record, item.step, until=scene.at(at))
    assert found is not None
    return found


def written(scene: Logged, *parts: tuple[float, float]) -> StepRecord:
    """The caustic from minute 10, strength read by hand at minute 15, then the file's readings."""
    record = scene.caustic(readings=False, ended=False)
    scene.read(record, "concentration", 2, basis="ww", now=scene.at(15))
    logger_file = scene.logger_file(scene.csv(with_flow(*parts)))
    place(scene, logger_file, **{f"step_{record.pk}": "timed"})
    scene.write(logger_file, [record])
    return record


def low(record: StepRecord) -> StepReading:
    return record.readings.get(quantity="flow_l_min", verdict="below")


def test_contact_goes_on_when_the_logger_shows_flow_again(scene: Logged) -> None:
    record = written(scene, (10, 150), (5, 60), (15, 150))
    kept = low(record).below
    assert kept is not None
    ((lost, back),) = kept
    # Lines lead from the last reading to the next: lost within one pace before minute 20.
    assert scene.at(20 - EVERY_MIN).isoformat() < lost < scene.at(20).isoformat()
    assert scene.at(25 - EVERY_MIN).isoformat() < back < scene.at(25).isoformat()
    found = contact(scene, record, at=35)
    assert found.stopped_by == ""
    # From minute 15 to 35, without the 5 that were lost.
    assert found.minutes == pytest.approx(15, abs=2 * EVERY_MIN)
    during = contact(scene, record, at=23)
    assert (during.stopped_by, during.minutes) == (
        "Flow lost",
        pytest.approx(5, abs=2 * EVERY_MIN),
    )


def test_contact_stays_paused_where_the_flow_is_not_back_in_the_file(scene: Logged) -> None:
    record = written(scene, (25, 150), (5, 60))
    kept = low(record).below
    assert kept is not None
    assert [back for _, back in kept] == [None]
    assert contact(scene, record, at=45).minutes == pytest.approx(20, abs=2 * EVERY_MIN)
    assert contact(scene, record, at=45).stopped_by == "Flow lost"


def test_flow_lost_twice_is_two_pauses(scene: Logged) -> None:
    record = written(scene, (10, 150), (2, 60), (4, 150), (3, 40), (11, 150))
    kept = low(record).below
    assert kept is not None
    assert len(kept) == 2
    assert contact(scene, record, at=35).minutes == pytest.approx(15, abs=3 * EVERY_MIN)


def test_what_a_tap_lost_is_not_brought_back_by_a_file(scene: Logged) -> None:
    record = written(scene, (10, 150), (5, 60), (15, 150))
    flow_actions.lose_flow(by=acting(scene.hand, now=scene.at(22)), record=record)
    assert contact(scene, record, at=35).minutes == pytest.approx(5, abs=2 * EVERY_MIN)
    assert contact(scene, record, at=35).stopped_by == "Flow lost"
    flow_actions.regain_flow(by=acting(scene.hand, now=scene.at(30)), record=record)
    assert contact(scene, record, at=35).minutes == pytest.approx(10, abs=2 * EVERY_MIN)


def test_flow_inside_its_window_all_along_pauses_nothing(scene: Logged) -> None:
    record = written(scene, (26, 150))
    assert list(record.readings.exclude(below=None)) == []
    assert contact(scene, record, at=35).minutes == 20


def test_low_reading_of_an_older_file_pauses_until_another_is_not_too_low(scene: Logged) -> None:
    """Before the stretches were kept, a file left its least reading only."""
    record = written(scene, (10, 150), (5, 60), (15, 150))
    first = low(record)
    with unguarded():
        StepReading.objects.filter(pk=first.pk).update(below=None)
    assert contact(scene, record, at=35).stopped_by == "Flow lost"
    assert contact(scene, record, at=35).minutes == pytest.approx(5, abs=2 * EVERY_MIN)
    with unguarded():
        again = StepReading.objects.get(pk=first.pk)
        again.pk, again.value, again.verdict = None, 150, "within"
        again.taken_at = scene.at(29)
        again.method = "logger file, another"
        again.save(force_insert=True)
    assert contact(scene, record, at=35).stopped_by == ""
    assert contact(scene, record, at=35).minutes == pytest.approx(11, abs=2 * EVERY_MIN)
