"""A strength read by conductivity in a step, by the site's calibration or as published."""

from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.conductivity.actions import save_calibration
from brewhygiene.regimes.conductivity.calibration import Pair
from brewhygiene.turnarounds.models import StepReading, StepRecord
from brewhygiene.turnarounds.quantities import MeterReading
from brewhygiene.turnarounds.readings import actions as step_reading_actions
from tests import clock
from tests.factories import acting
from tests.turnarounds.floor import Floor, as_shown, counted, errors

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor() -> Floor:
    return Floor()


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    return floor.running_caustic()


def url(name: str, record: StepRecord) -> str:
    return reverse(f"turnarounds:{name}", args=[record.clean_id, record.step_id])


def calibrated(floor: Floor, record: StepRecord) -> Any:
    """0.02 % w/v per mS/cm, at 75 °C."""
    return save_calibration(
        by=acting(floor.brewer),
        agent=record.step.agent,
        pairs=[Pair(0.02 * k, k, 75) for k in (40, 80, 120, 160)],
        basis="wv",
    )


def page(floor: Floor, record: StepRecord, by: str = "conductivity") -> Any:
    return floor.client.get(url("step", record), {"read": "concentration", "by": by})


def send(floor: Floor, record: StepRecord, **typed: Any) -> Any:
    form = page(floor, record).context["reading_form"]
    return floor.client.post(url("read", record), as_shown(form, **typed))


def test_published_relation_where_there_is_no_calibration(
    floor: Floor, running: StepRecord
) -> None:
    """2 % NaOH has 93.1 mS/cm at 20 °C (CRC Handbook); within 1.7 %."""
    answer = send(floor, running, conductivity_ms_cm="93,1", solution_c="20")
    assert answer.status_code == 302
    reading = StepReading.objects.get()
    assert (reading.value, reading.basis) == (pytest.approx(2, rel=0.017), "ww")
    assert (reading.verdict, reading.judged_value) == ("within", reading.value)
    kept = reading.titration
    assert kept.pop("within") == pytest.approx(reading.value * 0.034)
    assert kept == {
        "method": "conductivity",
        "conductivity_ms_cm": 93.1,
        "temperature_c": 20.0,
        "calibration": None,
    }
    assert Entry.objects.last().values["titration"]["method"] == "conductivity"


def test_sites_calibration_comes_before_what_is_published(
    floor: Floor, running: StepRecord
) -> None:
    kept = calibrated(floor, running)
    send(floor, running, conductivity_ms_cm="100", solution_c="75")
    reading = StepReading.objects.get()
    assert (reading.value, reading.basis) == (pytest.approx(2.0), "wv")
    assert reading.titration["calibration"] == kept.pk
    # 2 % w/v is 2 / 1.0203 % w/w where it weighs 1.0203 kg/L (Perry, between rows).
    assert reading.judged_value == pytest.approx(2 / 1.0203, rel=2e-3)


def test_screen_says_how_it_was_read(floor: Floor, running: StepRecord) -> None:
    send(floor, running, conductivity_ms_cm="93.1", solution_c="20")
    text = " ".join(floor.client.get(url("step", running)).content.decode().split())
    assert "By conductivity: 93.1 mS/cm at 20 °C by the published relation, ± 0.068 % w/w" in text


def test_form_says_by_what_and_what_fools_it(floor: Floor, running: StepRecord) -> None:
    text = page(floor, running).content.decode()
    assert "There is no calibration of your own" in text
    assert "cannot tell free caustic from carbonate" in text
    kept = calibrated(floor, running)
    assert f"By calibration no. {kept.pk} of" in page(floor, running).content.decode()


def test_way_of_the_last_reading_is_offered_again(floor: Floor, running: StepRecord) -> None:
    send(floor, running, conductivity_ms_cm="93.1", solution_c="20")
    assert page(floor, running, by="").context["reading_form"].way == "conductivity"


def test_titrant_is_not_taken_from_a_meter(floor: Floor, running: StepRecord) -> None:
    send(floor, running, conductivity_ms_cm="93.1", solution_c="20")
    shown = page(floor, running, by="titration").context["reading_form"]
    assert shown["titrant_normality"].value() is None


@pytest.mark.parametrize(
    "typed, found",
    [
        (
            {"conductivity_ms_cm": "", "solution_c": ""},
            {
                "conductivity_ms_cm": ["Enter the reading of the conductivity meter."],
                "solution_c": ["Enter the temperature at the meter."],
            },
        ),
        (
            {"conductivity_ms_cm": "93.1", "solution_c": "95"},
            {
                "solution_c": [
                    "The temperature of the solution is 95 °C. It must be from 5 to 90 °C."
                ]
            },
        ),
    ],
)
def test_what_the_meter_cannot_have_shown_is_said_beside_it_and_kept(
    floor: Floor, running: StepRecord, typed: dict[str, str], found: dict[str, list[str]]
) -> None:
    before = counted(StepReading)
    answer = send(floor, running, **typed)
    assert answer.status_code == 422
    assert errors(answer, "reading_form") == found
    assert answer.context["reading_form"]["solution_c"].value() == typed["solution_c"]
    assert counted(StepReading) == before


def test_stronger_than_is_published_is_refused(floor: Floor, running: StepRecord) -> None:
    answer = send(floor, running, conductivity_ms_cm="900", solution_c="20")
    assert "the strongest that the published conductivities reach" in str(
        errors(answer, "reading_form")["conductivity_ms_cm"]
    )


def test_fahrenheit_is_read_as_it_is_typed(floor: Floor, running: StepRecord) -> None:
    Brewery.objects.update(temperature_unit="F")
    send(floor, running, conductivity_ms_cm="93.1", solution_c="68")
    assert StepReading.objects.get().titration["temperature_c"] == pytest.approx(20)


def test_way_is_not_offered_where_nothing_tells_it(floor: Floor) -> None:
    clean = floor.at_step(4, minutes_ago=100)
    record = floor.running_step(clean, 4, now=clock.now())
    shown = page(floor, record)
    assert shown.context["reading_form"].way == "straight"
    assert "by=conductivity" not in shown.content.decode()
    with pytest.raises(Refusal) as refused:
        step_reading_actions.record_reading(
            by=acting(floor.hand, now=clock.now()),
            record=record,
            quantity="concentration",
            meter=MeterReading(5, 20),
        )
    assert refused.value.code == "not_readable"
