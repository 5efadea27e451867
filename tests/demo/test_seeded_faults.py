"""Each fault of the paper year is found by the tool: by which signal, after how many cleans.

The faults are seeded, so the answer is known; the numbers are what the tool made of them, pinned.
"""

from collections.abc import Iterator
from datetime import UTC, timedelta

import pytest
from django.utils import timezone

from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.phases.series import series_of_points
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.demo.brewery import TIME_ZONE
from brewhygiene.demo.paper_year.faults import FAULTS, Code
from tests.demo.conftest import NOW
from tests.simulation import faults
from tests.simulation.faults import Alarms, Found

pytestmark = pytest.mark.usefixtures("said")


@pytest.fixture(autouse=True)
def brewery_time() -> Iterator[None]:
    """As the middleware sets it for every page."""
    with timezone.override(TIME_ZONE):
        yield


@pytest.fixture(scope="module")
def found(said: list[str]) -> dict[str, Found]:
    with timezone.override(TIME_ZONE):
        return {one.fault: one for one in faults.search()}


@pytest.fixture(scope="module")
def alarms(said: list[str]) -> Alarms:
    with timezone.override(TIME_ZONE):
        return faults.false_alarms()


def test_simulated_day_is_that_of_the_demonstration() -> None:
    assert NOW.astimezone(UTC) == faults.NOW


def test_weak_caustic_is_found_as_its_lot_at_the_second_clean(found: dict[str, Found]) -> None:
    one = found["a weak caustic week: a drum of caustic liquor that had been diluted"]
    assert (one.page, one.signal, one.cleans) == (
        "signals",
        "All cleans with Caustic liquor 50 %, lot C-0417 (agent lot)",
        2,
    )


def test_leaking_gasket_is_found_as_one_point_at_the_third_clean(found: dict[str, Found]) -> None:
    one = found["a leaking manway gasket on BT 2, replaced at last"]
    assert (one.page, one.signal, one.cleans) == (
        "signals",
        "One point: BT 2, Manway gasket (EWMA)",
        3,
    )


def test_fouling_spray_head_is_found_as_its_vessel_at_the_fourth_clean(
    found: dict[str, Found],
) -> None:
    one = found["the spray head of FV 4 fouling slowly, opened and cleaned at last"]
    assert (one.page, one.signal, one.cleans) == ("signals", "All points of FV 4 (vessel)", 4)


def test_mishandled_swabs_are_found_as_a_lot_that_reads_low_at_the_fourth_clean(
    found: dict[str, Found],
) -> None:
    one = found["a lot of surface swabs that stood in the warm: it reads low"]
    assert (one.page, one.signal, one.cleans) == (
        "signals",
        "reads too low: All readings with ATP tests of lot S-0388 (test lot)",
        4,
    )


def test_dim_meter_is_found_by_its_control_checks_in_nine_days(found: dict[str, Found]) -> None:
    one = found["meter A growing dim, until it was sent away and meter B was used"]
    assert (one.page, one.signal, one.days) == ("meters", "positive control reads lower", 9)


def test_wearing_seat_is_found_while_every_reading_is_still_clear(found: dict[str, Found]) -> None:
    (fault,) = (one for one in FAULTS if one.code == Code.SEAT)
    one = found[fault.words]
    assert (one.page, one.signal, one.cleans) == (
        "signals",
        "One point: BT 1, Sample valve (CUSUM)",
        9,
    )
    read = Result.objects.filter(
        point__vessel__name="BT 1",
        point__name="Sample valve",
        meter__name="Meter A (cellar)",
        taken_at__gt=NOW - timedelta(days=fault.begins),
    )
    assert set(read.values_list("verdict", flat=True)) == {"clear"}


def test_swapped_meter_is_found_on_its_first_day_since_nothing_is_judged(
    found: dict[str, Found],
) -> None:
    one = found["a meter swap: meter B, whose scale is another, in the place of meter A"]
    assert (one.page, one.signal, one.cleans, one.days) == (
        "overview",
        "not judged, FV 1: a reading without approved limits",
        2,
        0,
    )


def test_readings_of_the_swapped_meter_are_joined_to_no_others() -> None:
    for series in series_of_points(SamplingPoint.objects.values_list("pk", flat=True)):
        for phase in series.phases:
            assert {reading.scale for reading in phase.readings} == {phase.scale.key}
            assert phase.bridged == 0


def test_false_alarms_stay_within_what_run_lengths_let_expect(alarms: Alarms) -> None:
    assert alarms.alarmed == ("FV 2, Last rinse at the cone (beyond_3, cusum, ewma)",)
    assert (alarms.points, alarms.readings) == (27, 354)
    assert alarms.expected == pytest.approx(4.0, abs=0.05)
    # Poisson: more than 9 would come by chance once in a hundred such years.
    assert len(alarms.alarmed) <= 9


def test_one_thing_that_was_not_at_fault_was_suspected_in_half_a_year(alarms: Alarms) -> None:
    assert (alarms.evenings, alarms.suspects) == (28, ("point FV 2, Last rinse at the cone",))


def test_kept_page_says_the_same(found: dict[str, Found], alarms: Alarms) -> None:
    assert faults.TABLE.read_text() == faults.table(list(found.values()), alarms)
