"""Readings on the screen of a running step: timer, targets, numbers typed, titrations."""

import re
from typing import Any

import pytest
from django.http import HttpResponse

from brewhygiene.turnarounds.models import (
    StepReading,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from tests.turnarounds.floor import Floor, as_shown, counted, errors
from tests.turnarounds.steps.sending import HTMX, dispose, send, url, words

pytestmark = pytest.mark.django_db

# Running


def test_the_timer_counts_from_the_servers_own_start(floor: Floor, running: StepRecord) -> None:
    page = floor.client.get(url("step", running))
    clock = page.context["screen"].clock
    assert (clock.minimum_s, clock.target_s, clock.maximum_s, clock.before_s) == (
        1200,
        None,
        2700,
        0,
    )
    assert clock.started_at == running.started_at
    assert clock.run_s == pytest.approx(600, abs=30)
    text = words(page)
    assert f'data-started="{running.started_at.isoformat()}"' in text
    assert 'data-minimum-s="1200" data-maximum-s="2700"' in text
    assert "until the minimum" in text


def test_a_page_with_a_timer_is_never_kept_by_the_browser(
    floor: Floor, running: StepRecord
) -> None:
    page = floor.client.get(url("step", running))
    assert "no-store" in page.headers["Cache-Control"]
    assert "HX-Request" in page.headers["Vary"]


def test_targets_are_shown_in_the_sites_units_with_their_sources() -> None:
    floor = Floor(temperature_unit="F", flow_unit="gpm")
    page = floor.client.get(url("step", floor.running_caustic()))
    assert [(t.title, t.words) for t in page.context["screen"].targets] == [
        ("Strength", "1.5 to 3 % w/w"),
        ("Temperature", "140 to 185 °F"),
        ("Time", "20 to 45 min"),
        ("Flow", "at least 31.7 US gpm"),
    ]
    sources = re.findall(r'aria-label="Source of (\w+)"></button><span[^>]*>([^<]*)<', words(page))
    assert sources == [
        (title, "common practice, no source")
        for title in ("Strength", "Temperature", "Time", "Flow")
    ]


def test_what_is_unread_is_asked_one_after_the_other(floor: Floor, running: StepRecord) -> None:
    asked = []
    for value in (2, 75, 150):
        page = floor.client.get(url("step", running))
        form = page.context["reading_form"]
        asked.append((form.asked_quantity, page.context["screen"].unread))
        answer = floor.client.post(url("read", running), as_shown(form, value=value))
        assert answer.status_code == 302
    assert asked == [
        ("concentration", ["Strength", "Temperature", "Flow"]),
        ("temperature_c", ["Temperature", "Flow"]),
        ("flow_l_min", ["Flow"]),
    ]
    page = floor.client.get(url("step", running))
    assert page.context["reading_form"] is None
    assert "Every target is read" in words(page)


def test_a_reading_is_judged_at_once(floor: Floor, running: StepRecord) -> None:
    answer = send(floor, running, "temperature_c", "75")
    reading = StepReading.objects.get(quantity="temperature_c")
    assert answer.headers["Location"] == f"{url('step', running)}?latest={reading.pk}#readings"
    line = floor.client.get(answer.headers["Location"]).context["latest"]
    assert (line.title, line.reading.verdict, line.miss) == ("Temperature 75 °C", "within", "")


def test_a_weak_solution_is_said_plainly_and_by_how_much(floor: Floor, running: StepRecord) -> None:
    answer = send(floor, running, "concentration", "1,2", basis="ww", headers=HTMX)
    line = answer.context["latest"]
    assert (line.title, line.miss) == (
        "Strength 1.2 % w/w",
        "0.3 % w/w below the minimum, 1.5 % w/w",
    )
    assert line.advice == "Too weak. Top up the agent and read again, or repeat the step."
    text = words(answer)
    assert line.advice in text
    assert "To decide:</strong> Strength 1.2 % w/w, at the return: below 1.5 % w/w" in text


def test_a_reading_by_htmx_answers_with_the_readings_alone(
    floor: Floor, running: StepRecord
) -> None:
    answer = send(floor, running, "temperature_c", "75", headers=HTMX)
    assert answer.status_code == 200
    assert answer.content.decode().lstrip().startswith('<div id="readings"')
    assert answer.context["reading_form"].asked_quantity == "concentration"
    refused = send(floor, running, "temperature_c", "warm", headers=HTMX)
    assert refused.status_code == 422
    assert refused.content.decode().lstrip().startswith('<div id="readings"')


def test_a_tab_by_htmx_answers_with_the_readings_alone(floor: Floor, running: StepRecord) -> None:
    answer = floor.client.get(url("step", running), {"read": "ph"}, headers=HTMX)
    assert answer.content.decode().lstrip().startswith('<div id="readings"')
    assert answer.context["reading_form"].asked_quantity == "ph"


def test_readings_are_typed_in_the_sites_units() -> None:
    floor = Floor(temperature_unit="F", flow_unit="gpm")
    record = floor.running_caustic()
    send(floor, record, "temperature_c", "140")
    send(floor, record, "flow_l_min", "40")
    stored = {r.quantity: r for r in record.readings.all()}
    assert stored["temperature_c"].value == pytest.approx(60)
    assert (stored["temperature_c"].typed, stored["temperature_c"].verdict) == ("140 °F", "within")
    # 40 US gal are 151.4 L.
    assert stored["flow_l_min"].value == pytest.approx(151.4, abs=0.05)
    answer = send(floor, record, "temperature_c", "130")
    line = floor.client.get(answer.headers["Location"]).context["latest"]
    assert line.miss == "10 °F below the minimum, 140 °F"


def test_the_basis_is_the_windows_until_another_is_chosen(
    floor: Floor, running: StepRecord
) -> None:
    form = floor.client.get(url("step", running)).context["reading_form"]
    assert form["basis"].value() == "ww"
    send(floor, running, "concentration", "3", basis="vv")
    reading = StepReading.objects.get(quantity="concentration")
    assert (reading.typed, reading.basis) == ("3 % v/v", "vv")
    # 3 % by volume of 50 % liquor (1.525 kg/L) is 2.29 % w/v, 2.2 % w/w.
    assert reading.judged_value == pytest.approx(2.24, abs=0.02)


BAD_READINGS = [
    ("temperature_c", "hot", "“hot” is not a number. Enter digits, e.g. 2.5 or 2,5."),
    ("temperature_c", "", "Enter the reading."),
    (
        "temperature_c",
        "1.234,5",
        "“1.234,5” is ambiguous. Enter it without thousands separators.",
    ),
    ("temperature_c", "400", "400 °C is not possible. Enter -10 °C to 150 °C."),
    ("temperature_c", "1e9", "“1e9” is not a number. Enter digits, e.g. 2.5 or 2,5."),
    ("ph", "15", "pH 15 is not possible. Enter pH 0 to pH 14."),
    ("ph", "-1", "pH -1 is not possible. Enter pH 0 to pH 14."),
    ("flow_l_min", "-5", "-5 L/min is not possible. Enter 0 L/min to 20000 L/min."),
    ("concentration", "-2", "-2 % w/w is not possible. Enter 0 % w/w to 60 % w/w."),
    ("concentration", "101", "101 % w/w is not possible. Enter 0 % w/w to 60 % w/w."),
]


@pytest.mark.parametrize(("quantity", "typed", "message"), BAD_READINGS)
def test_a_reading_that_cannot_be_is_said_beside_it_and_kept(
    floor: Floor, running: StepRecord, quantity: str, typed: str, message: str
) -> None:
    before = counted(StepReading, Deviation)
    basis = {"basis": "ww"} if quantity == "concentration" else {}
    answer = send(floor, running, quantity, typed, stage="end", key="kept", **basis)
    assert answer.status_code == 422
    assert errors(answer, "reading_form") == {"value": [message]}
    form = answer.context["reading_form"]
    assert (form["value"].value(), form["stage"].value()) == (typed, "end")
    # The same key, so that it counts once when it is sent again.
    assert form["key"].value() == "kept"
    assert 'id="read_value_error"' in answer.content.decode()
    assert counted(StepReading, Deviation) == before


@pytest.mark.parametrize(
    ("typed", "value"), [("74,5", 74.5), ("74.5", 74.5), (" 75 ", 75), ("-5", -5)]
)
def test_a_decimal_comma_or_point_is_read(
    floor: Floor, running: StepRecord, typed: str, value: float
) -> None:
    send(floor, running, "temperature_c", typed)
    assert StepReading.objects.get(quantity="temperature_c").value == value


def test_a_value_that_cannot_be_is_said_in_the_sites_unit() -> None:
    floor = Floor(temperature_unit="F")
    answer = send(floor, floor.running_caustic(), "temperature_c", "800")
    assert errors(answer, "reading_form") == {
        "value": ["800 °F is not possible. Enter 14 °F to 302 °F."]
    }


def test_a_reading_sent_twice_is_one(floor: Floor, running: StepRecord) -> None:
    answers = [send(floor, running, "temperature_c", "75", key="tap") for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert answers[0].headers["Location"] == answers[1].headers["Location"]
    assert StepReading.objects.count() == 1


def test_a_reading_of_something_unknown_is_not_written(floor: Floor, running: StepRecord) -> None:
    floor.read(running, "concentration", 2, basis="ww")
    floor.read(running, "temperature_c", 75)
    floor.read(running, "flow_l_min", 150)
    before = counted(StepReading)
    assert send(floor, running, "taste", "3").headers["Location"] == url("step", running)
    assert counted(StepReading) == before


# Titration


def titrate(floor: Floor, record: StepRecord, **volumes: Any) -> HttpResponse:
    data = {"titrant_ml": "5.1", "titrant_normality": "1", "sample_ml": "10", **volumes}
    return send(floor, record, "concentration", "", by="titration", **data)


def test_a_titration_gives_the_strength(floor: Floor, running: StepRecord) -> None:
    answer = titrate(floor, running)
    line = floor.client.get(answer.headers["Location"]).context["latest"]
    # 5.1 mL of 1 eq/L on 10 mL are 2.04 % w/v NaOH, 2.0 % w/w.
    assert (line.title, line.reading.verdict) == ("Strength 2.04 % w/v", "within")
    assert line.method == "5.1 mL of 1 eq/L for a sample of 10 mL, judged as 2 % w/w"


def test_titrant_and_sample_are_remembered_of_the_last_titration(
    floor: Floor, running: StepRecord
) -> None:
    titrate(floor, running, titrant_normality="0.5", sample_ml="5")
    form = floor.client.get(url("step", running), {"read": "concentration"}).context["reading_form"]
    # Titrated last time, so offered so again.
    assert form.titrated is True
    assert [form[name].value() for name in ("titrant_ml", "titrant_normality", "sample_ml")] == [
        None, "0.5", "5",
    ]  # fmt: skip
    straight = floor.client.get(url("step", running), {"read": "concentration", "by": "straight"})
    assert straight.context["reading_form"].titrated is False


@pytest.mark.parametrize(
    ("volumes", "field", "message"),
    [
        (
            {"titrant_ml": "60"},
            "titrant_ml",
            "60 mL is more than the burette measures (50 mL). Titrate a smaller sample.",
        ),
        ({"titrant_ml": "-1"}, "titrant_ml", "Enter a volume of 0 or more."),
        ({"titrant_ml": ""}, "titrant_ml", "Enter the volume of titrant used."),
        (
            {"titrant_ml": "some"},
            "titrant_ml",
            "“some” is not a number. Enter digits, e.g. 2.5 or 2,5.",
        ),
        (
            {"titrant_normality": "0"},
            "titrant_normality",
            "Enter a titrant strength above 0.",
        ),
        ({"sample_ml": "0"}, "sample_ml", "Enter a sample volume above 0."),
        # 40 mL of 10 eq/L on 1 mL would be 1600 % w/v: said beside what was typed.
        (
            {"titrant_ml": "40", "titrant_normality": "10", "sample_ml": "1"},
            "titrant_ml",
            "1600 % w/v is not possible. Enter 0 % w/v to 90 % w/v.",
        ),
    ],
)
def test_a_titration_that_cannot_be_is_said_beside_its_volume_and_kept(
    floor: Floor, running: StepRecord, volumes: dict[str, str], field: str, message: str
) -> None:
    before = counted(StepReading)
    answer = titrate(floor, running, **volumes)
    assert answer.status_code == 422
    assert errors(answer, "reading_form") == {field: [message]}
    form = answer.context["reading_form"]
    typed = {"titrant_ml": "5.1", "titrant_normality": "1", "sample_ml": "10", **volumes}
    assert {name: form[name].value() for name in typed} == typed
    assert counted(StepReading) == before


# Two tablets


def test_a_reading_typed_for_an_attempt_that_is_over_is_refused(
    floor: Floor, running: StepRecord
) -> None:
    floor.read(running, "temperature_c", 20)
    dispose(floor, Deviation.objects.get(), "repeat")
    floor.client.post(url("start_step", running))
    before = counted(StepReading)
    answer = send(floor, running, "flow_l_min", "150")
    assert errors(answer, "reading_form") == {
        "__all__": ["That attempt has ended. Record the reading in the step that runs now."]
    }
    assert counted(StepReading) == before


def test_an_end_sent_for_an_earlier_attempt_does_not_end_the_next(
    floor: Floor, running: StepRecord
) -> None:
    floor.read(running, "temperature_c", 20)
    dispose(floor, Deviation.objects.get(), "repeat")
    floor.client.post(url("start_step", running))
    answer = floor.client.post(url("end_step", running), {"record": running.pk})
    assert errors(answer) == {"__all__": ["This step has already ended."]}
    assert StepRecord.objects.get(step=running.step_id, attempt=2).ended_at is None
