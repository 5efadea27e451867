"""The tank-gas estimate, against sums done by hand from the gas law and IAPWS's pressures."""

import math
from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.regimes.models import RegimeVersion, StepKind
from brewhygiene.turnarounds.advice.tank_gas import Estimate, GasGiven, estimate_of
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import cleans_with_records
from tests import clock
from tests.factories import add_step, make_agent, make_version, make_vessel
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db
# CODATA 2018's R; 30 hL at 20 °C and one atmosphere.
MOLES = 101_325 * 3 / (8.314462618 * 293.15)


def version(*, hot: bool = False, vent: bool = False) -> RegimeVersion:
    made = make_version(steps=False)
    if vent:
        add_step(made, StepKind.VENT, end_criterion="vented")
    windows = {"concentration": (1.0, 3.0)} | ({"temperature_c": (70, 80)} if hot else {})
    add_step(made, StepKind.CAUSTIC, agent=make_agent(), windows=windows)
    return made


@pytest.fixture
def floor() -> Floor:
    return Floor()


def estimate(
    floor: Floor, of: RegimeVersion, *, co2_left: bool = True, vented: str = "", **given: Any
) -> Estimate | None:
    now = clock.now() - timedelta(hours=1)
    floor.version = of
    clean: Clean = floor.started(floor.emptied(now=now, co2_left=co2_left), now=now)
    if vented == "done":
        floor.run_step(clean, 1, now=now)
    loaded = cleans_with_records().get(pk=clean.pk)
    step = list(loaded.version.steps.all())[-1]
    return estimate_of(
        step,
        loaded.turnaround.vessel,
        progress=progress_of(loaded),
        co2_left=loaded.turnaround.emptying.co2_left,
        given=GasGiven(**given),
        brewery=floor.brewery,
    )


def test_tank_full_of_co2_eats_about_ten_kilograms_of_caustic(floor: Floor) -> None:
    """30 hL: 5.49 kg, which take 9.98 kg of NaOH: two moles a mole, 44.0095 and 39.9971 g/mol."""
    found = estimate(floor, version(), solution_l=1000)
    working = {line.label: line.value for line in found.working}
    assert working["CO2 in the vessel"] == pytest.approx(MOLES * 0.0440095)
    eaten_kg = MOLES * 2 * 0.0399971
    assert working["NaOH that the gas can use"] == pytest.approx(eaten_kg)
    # 1000 L of 2 % weigh 1020.7 kg (Perry, 6th ed.); they take up the gas.
    left_ww = (20.414 - eaten_kg) / (1020.7 + MOLES * 0.0440095) * 100
    assert working["strength left"] == pytest.approx(left_ww, rel=2e-3)
    assert found.rows[:3] == (
        ("CO2 in the vessel", "5.5 kg"),
        ("NaOH used up by it", "10 kg"),
        ("Left in 1000 L of solution", "1.02 % w/w of 2 % w/w"),
    )
    assert found.rows[3] == (
        "Air to purge below 1 % CO2",
        "4.6 times its volume, 138 hL, if ideally mixed. Measure CO2 anyway",
    )
    assert working["volumes of air"] == pytest.approx(math.log(100))


def test_absorbing_all_of_it_draws_all_but_the_waters_vapour(floor: Floor) -> None:
    """Saturation pressure at 20 °C: 23.393 mbar (IAPWS R7-97); 1013.25 less that."""
    found = estimate(floor, version(), solution_l=1000)
    vacuum = [line.value for line in found.working if line.label.endswith(": vacuum")]
    assert vacuum == [pytest.approx(1013.25 - 23.393, abs=0.01)]
    assert found.over
    assert "more than the 50 mbar that this vessel is rated for" in found.vacuums[0][1]


def test_little_solution_is_used_up_altogether(floor: Floor) -> None:
    found = estimate(floor, version(), solution_l=250)
    assert found.rows[2][1].startswith("nothing of 2 % w/w: it contains 5.1")


def test_without_a_volume_the_rest_is_said_all_the_same(floor: Floor) -> None:
    found = estimate(floor, version())
    assert [what for what, _ in found.rows] == [
        "CO2 in the vessel",
        "NaOH used up by it",
        "Air to purge below 1 % CO2",
    ]
    assert found.missing[0].startswith("The volume of solution is not on record")


def test_pressure_on_the_gauge_is_more_gas(floor: Floor) -> None:
    """One bar above the air: 2013.25 mbar, 1.987 times as much."""
    found = estimate(floor, version(), gauge_bar=1, solution_l=1000)
    co2 = next(line.value for line in found.working if line.label == "CO2 in the vessel")
    assert co2 == pytest.approx(MOLES * 0.0440095 * 2013.25 / 1013.25)


def test_vent_step_done_leaves_the_smaller_statement(floor: Floor) -> None:
    found = estimate(floor, version(vent=True), vented="done", solution_l=1000)
    assert found.vented is not None
    assert found.rows[0] == ("CO2 in the vessel", "55 g")
    assert [what for what, _ in found.rows] == [
        "CO2 in the vessel",
        "NaOH used up by it",
        "Left in 1000 L of solution",
    ]


def test_vent_step_not_done_counts_for_nothing(floor: Floor) -> None:
    found = estimate(floor, version(vent=True), solution_l=1000)
    assert (found.vented, found.rows[0]) == (None, ("CO2 in the vessel", "5.5 kg"))


def test_hot_step_is_told_its_cooling_whatever_the_gas(floor: Floor) -> None:
    """75 to 12 °C: 385.9 and 14.03 mbar of vapour (IAPWS R7-97), the dry gas by T2 / T1."""
    found = estimate(floor, version(hot=True), co2_left=False)
    after = (1013.25 - 385.95) * 285.15 / 348.15 + 14.03
    vacuum = [line.value for line in found.working if line.label.endswith(": vacuum")]
    assert vacuum == [pytest.approx(1013.25 - after, abs=0.2)]
    assert (found.rows, found.vacuums[0][0]) == ((), "Cooled while closed, from 75 °C to 12 °C")


def test_hot_caustic_is_told_both_together(floor: Floor) -> None:
    found = estimate(floor, version(hot=True), solution_l=1000)
    assert [what for what, _ in found.vacuums] == [
        "All of that CO2 absorbed",
        "Cooled while closed, from 75 °C to 12 °C",
        "Both together",
    ]


def test_nothing_is_due_without_co2_or_on_an_open_vessel(floor: Floor) -> None:
    assert estimate(floor, version(), co2_left=False) is None
    floor.vessel = make_vessel(kind="hose_set")
    made = version()
    made.regime.vessel_kinds = ["hose_set"]
    made.regime.save()
    assert estimate(floor, made) is None


def test_estimate_costs_no_query(floor: Floor, django_assert_num_queries: Any) -> None:
    now = clock.now() - timedelta(hours=1)
    floor.version = version(hot=True)
    clean = floor.started(floor.emptied(now=now), now=now)
    loaded = cleans_with_records().get(pk=clean.pk)
    step = loaded.version.steps.all()[0]
    with django_assert_num_queries(0):
        estimate_of(
            step,
            loaded.turnaround.vessel,
            progress=progress_of(loaded),
            co2_left=loaded.turnaround.emptying.co2_left,
            given=GasGiven(solution_l=500),
            brewery=floor.brewery,
        )
