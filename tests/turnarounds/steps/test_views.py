"""The one screen of a step: safety, start, timer and readings, end, deviations."""

import zoneinfo
from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone

from brewhygiene.turnarounds.models import (
    Clean,
    Deviation,
    SafetyAcknowledgement,
    StepReading,
    StepRecord,
)
from tests.turnarounds.floor import Floor, as_shown, counted, errors

pytestmark = pytest.mark.django_db

CAUSTIC = ["vented", "purged", "air_path", "vacuum_valve", "caustic", "hot", "hot_cold"]
HTMX = {"HX-Request": "true"}


@pytest.fixture
def floor() -> Floor:
    return Floor()


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    """Hot caustic, running for 10 minutes, nothing read."""
    return floor.running_caustic()


def url(name: str, record: StepRecord | None = None, *args: Any) -> str:
    if record is not None:
        args = (record.clean_id, record.step_id)
    return reverse(f"turnarounds:{name}", args=args)


def at(clean: Clean, order: int) -> tuple[int, int]:
    return clean.pk, clean.version.steps.get(order=order).pk


def words(answer: HttpResponse) -> str:
    return " ".join(answer.content.decode().split())


# Safety


def test_a_step_shows_its_cautions_before_it_can_be_started(floor: Floor) -> None:
    page = floor.client.get(url("step", None, *at(floor.at_step(2), 2)))
    assert [c.code for c, _ in page.context["safety_form"].ticks()] == CAUSTIC
    text = words(page)
    assert "Burns skin and eyes." in text
    assert "Green folder, page 4" in text
    assert "do not replace the safety data sheet" in text
    assert ">Start</button>" not in text


def test_a_tick_left_out_is_said_and_the_others_are_kept(floor: Floor) -> None:
    step = at(floor.at_step(2), 2)
    before = counted(SafetyAcknowledgement, StepRecord)
    answer = floor.client.post(url("safety", None, *step), {"codes": CAUSTIC[1:]})
    assert answer.status_code == 422
    assert errors(answer, "safety_form") == {
        "codes": ["Tick every line; each is a check of its own. The step stays locked until then."]
    }
    assert [ticked for _, ticked in answer.context["safety_form"].ticks()] == [False] + [True] * 6
    assert counted(SafetyAcknowledgement, StepRecord) == before


def test_a_step_is_started_once_every_line_is_ticked(floor: Floor) -> None:
    step = at(floor.at_step(2), 2)
    floor.client.post(url("safety", None, *step), {"codes": CAUSTIC})
    page = words(floor.client.get(url("step", None, *step)))
    assert ">Start</button>" in page
    assert "Ticked by Jonas Feld" in page
    floor.client.post(url("start_step", None, *step))
    assert floor.client.get(url("step", None, *step)).context["screen"].state == "running"


def test_a_step_is_not_started_before_its_checks(floor: Floor) -> None:
    step = at(floor.at_step(2), 2)
    before = counted(StepRecord)
    answer = floor.client.post(url("start_step", None, *step))
    assert answer.status_code == 422
    assert errors(answer, "key_form") == {"__all__": ["Do the safety checks of this step first."]}
    assert counted(StepRecord) == before


def test_a_step_started_twice_by_one_form_is_started_once(floor: Floor) -> None:
    step = at(floor.at_step(1), 1)
    codes = [
        floor.client.post(url("start_step", None, *step), {"key": "tap"}).status_code
        for _ in range(2)
    ]
    assert (codes, StepRecord.objects.count()) == ([302, 302], 1)


def test_a_step_out_of_its_turn_says_what_comes_first(floor: Floor) -> None:
    clean = floor.at_step(2)
    page = floor.client.get(url("step", None, *at(clean, 4)))
    assert "First comes: caustic." in words(page)
    answer = floor.client.post(url("start_step", None, *at(clean, 4)))
    assert errors(answer, "key_form") == {"__all__": ["First comes: caustic."]}


def test_cold_water_after_a_hot_step_asks_for_the_vent(floor: Floor) -> None:
    page = floor.client.get(url("step", None, *at(floor.at_step(3, minutes_ago=90), 3)))
    assert [c.code for c, _ in page.context["safety_form"].ticks()] == ["cold_after_hot"]


# Running


def test_the_timer_counts_from_the_servers_own_start(floor: Floor, running: StepRecord) -> None:
    page = floor.client.get(url("step", running))
    clock = page.context["screen"].clock
    assert (clock.least_s, clock.target_s, clock.most_s, clock.before_s) == (1200, None, 2700, 0)
    assert clock.started_at == running.started_at
    assert clock.run_s == pytest.approx(600, abs=30)
    text = words(page)
    assert f'data-started="{running.started_at.isoformat()}"' in text
    assert 'data-least-s="1200" data-most-s="2700"' in text
    assert "until the least time" in text


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
    assert "Strength: common practice, no source" in words(page)


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
    assert "All is read" in words(page)


def send(
    floor: Floor, record: StepRecord, quantity: str, value: str, *, headers: Any = None, **more: Any
) -> HttpResponse:
    data = {"record": record.pk, "quantity": quantity, "stage": "return", "value": value, **more}
    return floor.client.post(url("read", record), data, headers=headers)


def test_a_reading_is_judged_at_once(floor: Floor, running: StepRecord) -> None:
    answer = send(floor, running, "temperature_c", "75")
    reading = StepReading.objects.get(quantity="temperature_c")
    assert answer.headers["Location"] == f"{url('step', running)}?latest={reading.pk}#readings"
    line = floor.client.get(answer.headers["Location"]).context["latest"]
    assert (line.title, line.reading.verdict, line.miss) == ("Temperature 75 °C", "within", "")


def test_a_weak_solution_is_said_plainly_and_by_how_much(floor: Floor, running: StepRecord) -> None:
    answer = send(floor, running, "concentration", "1,2", basis="ww", headers=HTMX)
    line = answer.context["latest"]
    assert (line.title, line.miss) == ("Strength 1.2 % w/w", "0.3 % w/w below the least, 1.5 % w/w")
    assert line.advice == "Too weak. Top it up and read again, or repeat the step."
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
    assert line.miss == "10 °F below the least, 140 °F"


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
    ("temperature_c", "hot", "“hot” is not a number. Type digits, as 2.5 or 2,5."),
    ("temperature_c", "", "Type what you read."),
    (
        "temperature_c",
        "1.234,5",
        "“1.234,5” can be read two ways. Type it without thousands marks.",
    ),
    ("temperature_c", "400", "400 °C cannot be. It should lie between -10 °C and 150 °C."),
    ("temperature_c", "1e9", "“1e9” is not a number. Type digits, as 2.5 or 2,5."),
    ("ph", "15", "pH 15 cannot be. It should lie between pH 0 and pH 14."),
    ("ph", "-1", "pH -1 cannot be. It should lie between pH 0 and pH 14."),
    ("flow_l_min", "-5", "-5 L/min cannot be. It should lie between 0 L/min and 20000 L/min."),
    ("concentration", "-2", "-2 % w/w cannot be. It should lie between 0 % w/w and 60 % w/w."),
    ("concentration", "101", "101 % w/w cannot be. It should lie between 0 % w/w and 60 % w/w."),
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
        "value": ["800 °F cannot be. It should lie between 14 °F and 302 °F."]
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
            "60 mL is more than the burette holds (50 mL). Take a smaller sample.",
        ),
        ({"titrant_ml": "-1"}, "titrant_ml", "A volume cannot be below 0."),
        ({"titrant_ml": ""}, "titrant_ml", "Type how much titrant it took."),
        (
            {"titrant_ml": "some"},
            "titrant_ml",
            "“some” is not a number. Type digits, as 2.5 or 2,5.",
        ),
        (
            {"titrant_normality": "0"},
            "titrant_normality",
            "The titrant's strength is above 0.",
        ),
        ({"sample_ml": "0"}, "sample_ml", "The sample's volume is above 0."),
        # 40 mL of 10 eq/L on 1 mL would be 1600 % w/v: said beside what was typed.
        (
            {"titrant_ml": "40", "titrant_normality": "10", "sample_ml": "1"},
            "titrant_ml",
            "1600 % w/v cannot be. It should lie between 0 % w/v and 90 % w/v.",
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
    assert errors(answer, "reading_form") == {"__all__": ["That attempt is over."]}
    assert counted(StepReading) == before


def test_an_end_sent_for_an_earlier_attempt_does_not_end_the_next(
    floor: Floor, running: StepRecord
) -> None:
    floor.read(running, "temperature_c", 20)
    dispose(floor, Deviation.objects.get(), "repeat")
    floor.client.post(url("start_step", running))
    answer = floor.client.post(url("end_step", running), {"record": running.pk})
    assert errors(answer) == {"__all__": ["This step has ended already."]}
    assert StepRecord.objects.get(step=running.step_id, attempt=2).ended_at is None


# The end


def read_all(floor: Floor, record: StepRecord) -> None:
    floor.read(record, "concentration", 2, basis="ww")
    floor.read(record, "temperature_c", 75)
    floor.read(record, "flow_l_min", 150)


def end(floor: Floor, record: StepRecord, **values: Any) -> HttpResponse:
    return floor.client.post(url("end_step", record), {"record": record.pk, **values})


def test_what_is_unread_is_said_before_the_end(floor: Floor, running: StepRecord) -> None:
    floor.read(running, "temperature_c", 75)
    text = words(floor.client.get(url("end_step", running)))
    assert "Not read yet: Strength, Flow." in text
    assert "The least time has not run yet." in text


def test_a_step_without_a_deviation_leads_to_the_next(floor: Floor) -> None:
    record = floor.running_caustic(minutes_ago=25)
    read_all(floor, record)
    answer = end(floor, record, agent_lot="C-77", note="Foamed a little")
    assert answer.headers["Location"] == url("step", None, *at(record.clean, 3))
    record.refresh_from_db()
    assert (record.agent_lot, record.note) == ("C-77", "Foamed a little")
    assert Deviation.objects.count() == 0


def test_the_last_step_leads_to_the_end_of_the_clean(floor: Floor) -> None:
    clean = floor.at_step(4, minutes_ago=120)
    record = floor.running_step(clean, 4, now=timezone.now() - timedelta(minutes=10))
    floor.read(record, "concentration", 150, basis="mg_l")
    answer = end(floor, record)
    assert answer.headers["Location"] == reverse("turnarounds:finish", args=[clean.pk])


def test_a_step_with_a_deviation_stays_until_it_is_decided(
    floor: Floor, running: StepRecord
) -> None:
    read_all(floor, running)
    answer = end(floor, running)
    assert answer.headers["Location"] == url("step", running)
    page = floor.client.get(url("step", running))
    assert page.context["deviation"].description == "Time 10 min, at the end: below 20 min"
    assert "Too short. Extend the step by what is missing." in words(page)


def test_the_end_that_a_step_runs_to_has_to_be_said(floor: Floor) -> None:
    clean = floor.at_step(1)
    record = floor.running_step(clean, 1, now=timezone.now() - timedelta(minutes=5))
    before = counted(StepRecord, Deviation)
    answer = end(floor, record, note="Kept")
    assert answer.status_code == 422
    assert errors(answer) == {"end_criterion_met": ["Say whether it was reached: runs clear."]}
    assert answer.context["form"]["note"].value() == "Kept"
    record.refresh_from_db()
    assert record.ended_at is None
    assert counted(StepRecord, Deviation) == before
    end(floor, record, end_criterion_met="no")
    assert [d.description for d in Deviation.objects.all()] == ["End not reached: runs clear"]


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("half an hour", "“half an hour” is not a number. Type digits, as 2.5 or 2,5."),
        ("-3", "-3 min cannot be. It should lie between 0 min and 2880 min."),
        ("9999", "9999 min cannot be. It should lie between 0 min and 2880 min."),
    ],
)
def test_minutes_that_cannot_be_are_said_beside_them(
    floor: Floor, running: StepRecord, typed: str, message: str
) -> None:
    before = counted(StepReading, Deviation)
    answer = end(floor, running, minutes=typed, agent_lot="C-78")
    assert errors(answer) == {"minutes": [message]}
    form = answer.context["form"]
    assert (form["minutes"].value(), form["agent_lot"].value()) == (typed, "C-78")
    running.refresh_from_db()
    assert running.ended_at is None
    assert counted(StepReading, Deviation) == before


def test_minutes_are_typed_where_the_timer_was_not_used(floor: Floor, running: StepRecord) -> None:
    read_all(floor, running)
    end(floor, running, minutes="25")
    assert StepReading.objects.get(quantity="time_min").value == 25
    assert Deviation.objects.count() == 0


def test_the_agents_last_lot_is_filled_in(floor: Floor, running: StepRecord) -> None:
    assert floor.client.get(url("end_step", running)).context["form"]["agent_lot"].value() == ""
    read_all(floor, running)
    end(floor, running, minutes="25", agent_lot="C-77")
    floor.client.post(
        reverse("turnarounds:stop", args=[running.clean_id]), {"reason": "To try again"}
    )
    clean = floor.started(running.clean.turnaround, now=timezone.now())
    floor.run_step(clean, 1, now=timezone.now())
    again = floor.running_step(clean, 2, now=timezone.now())
    page = floor.client.get(url("end_step", again))
    assert page.context["form"]["agent_lot"].value() == "C-77"


def test_an_end_sent_twice_by_one_form_is_one(floor: Floor, running: StepRecord) -> None:
    read_all(floor, running)
    codes = [end(floor, running, key="tap", minutes="25").status_code for _ in range(2)]
    assert codes == [302, 302]
    assert StepReading.objects.filter(quantity="time_min").count() == 1


# Deviations


def dispose(
    floor: Floor, deviation: Deviation, disposition: str, reason: str = "", **more: Any
) -> HttpResponse:
    return floor.client.post(
        reverse("turnarounds:dispose", args=[deviation.pk]),
        {"disposition": disposition, "reason": reason, **more},
    )


@pytest.fixture
def too_short(floor: Floor, running: StepRecord) -> Deviation:
    """Caustic ended after 10 of at least 20 minutes."""
    read_all(floor, running)
    end(floor, running)
    return Deviation.objects.get()


def test_a_deviation_offers_four_ways(floor: Floor, too_short: Deviation) -> None:
    form = floor.client.get(url("step", too_short.record)).context["dispose_form"]
    assert [option[0] for option in form.options()] == ["repeat", "extend", "accept", "stop"]


@pytest.mark.parametrize("disposition", ["accept", "stop"])
def test_accepting_or_stopping_without_a_reason_is_said_and_the_choice_is_kept(
    floor: Floor, too_short: Deviation, disposition: str
) -> None:
    before = counted(Deviation)
    answer = dispose(floor, too_short, disposition)
    assert answer.status_code == 422
    assert errors(answer, "dispose_form") == {"reason": ["Say why."]}
    assert [o[0] for o in answer.context["dispose_form"].options() if o[3]] == [disposition]
    too_short.refresh_from_db()
    assert too_short.disposition == ""
    assert counted(Deviation) == before


@pytest.mark.parametrize("disposition", ["", "ignore"])
def test_a_decision_that_is_none_is_said(
    floor: Floor, too_short: Deviation, disposition: str
) -> None:
    answer = dispose(floor, too_short, disposition, "I typed this")
    assert errors(answer, "dispose_form") == {"disposition": ["Choose what to do about it."]}
    assert answer.context["dispose_form"]["reason"].value() == "I typed this"


def test_an_accepted_deviation_leads_on(floor: Floor, too_short: Deviation) -> None:
    answer = dispose(floor, too_short, "accept", "The clock was knocked")
    assert answer.headers["Location"] == url("step", None, *at(too_short.record.clean, 3))


def test_a_repeated_step_is_started_again(floor: Floor, too_short: Deviation) -> None:
    answer = dispose(floor, too_short, "repeat")
    assert answer.headers["Location"] == url("step", too_short.record)
    page = floor.client.get(url("step", too_short.record))
    # The checks were ticked for this step of this clean already.
    assert ">Start it again</button>" in words(page)


def test_an_extended_step_counts_on_from_what_ran(floor: Floor, too_short: Deviation) -> None:
    dispose(floor, too_short, "extend")
    page = floor.client.get(url("step", too_short.record))
    assert ">Go on: start the timer</button>" in words(page)
    floor.client.post(url("start_step", too_short.record))
    screen = floor.client.get(url("step", too_short.record)).context["screen"]
    assert screen.clock.before_s == pytest.approx(600, abs=30)
    # What was read before the extension counts.
    assert screen.unread == []


def test_an_extension_counts_on_from_typed_minutes(floor: Floor, running: StepRecord) -> None:
    read_all(floor, running)
    end(floor, running, minutes="15")
    dispose(floor, Deviation.objects.get(), "extend")
    floor.client.post(url("start_step", running))
    screen = floor.client.get(url("step", running)).context["screen"]
    assert screen.clock.before_s == 15 * 60


def test_a_stopped_clean_leads_back_to_the_vessel(floor: Floor, too_short: Deviation) -> None:
    clean = too_short.record.clean
    answer = dispose(floor, too_short, "stop", "Pump seal gone")
    assert answer.headers["Location"] == reverse("board:turnaround", args=[clean.turnaround_id])
    clean.refresh_from_db()
    assert clean.stop_reason == "Time 10 min, at the end: below 20 min. Pump seal gone"


def test_repeating_settles_all_that_is_open_on_the_attempt(
    floor: Floor, running: StepRecord
) -> None:
    end(floor, running)
    found = list(Deviation.objects.order_by("pk"))
    assert len(found) == 4
    dispose(floor, found[0], "repeat")
    assert set(Deviation.objects.values_list("disposition", flat=True)) == {"repeat"}


def test_accepting_settles_one_after_the_other(floor: Floor, running: StepRecord) -> None:
    end(floor, running)
    for left in (3, 2, 1):
        dispose(floor, Deviation.objects.filter(disposition="").first(), "accept", "Known")
        assert floor.client.get(url("step", running)).context["screen"].undecided != []
        assert Deviation.objects.filter(disposition="").count() == left
    dispose(floor, Deviation.objects.get(disposition=""), "accept", "Known")
    assert floor.client.get(url("step", running)).context["screen"].state == "done"


def test_a_weak_solution_put_right_keeps_the_step_running(
    floor: Floor, running: StepRecord
) -> None:
    floor.read(running, "concentration", 1.2, basis="ww")
    deviation = Deviation.objects.get()
    page = words(floor.client.get(reverse("turnarounds:dispose", args=[deviation.pk])))
    assert "Put it right and go on" in page
    assert 'role="timer"' in page
    answer = dispose(floor, deviation, "extend")
    assert answer.headers["Location"] == url("step", running)
    screen = floor.client.get(url("step", running)).context["screen"]
    assert (screen.state, screen.undecided) == ("running", [])


def test_a_deviation_decided_already_names_who_did(floor: Floor, too_short: Deviation) -> None:
    dispose(floor, too_short, "repeat")
    answer = dispose(floor, too_short, "accept", "Too late")
    assert errors(answer, "dispose_form") == {
        "__all__": ["Jonas Feld decided already: repeat the step."]
    }


# Leaving out, correcting


def test_a_step_is_left_out_with_its_reason_and_then_decided_on(floor: Floor) -> None:
    step = at(floor.at_step(2), 2)
    before = counted(StepRecord, Deviation)
    refused = floor.client.post(url("leave_out", None, *step), {"reason": ""})
    assert (refused.status_code, errors(refused)) == (422, {"reason": ["Say why."]})
    assert counted(StepRecord, Deviation) == before
    answer = floor.client.post(url("leave_out", None, *step), {"reason": "No caustic left"})
    assert answer.headers["Location"] == url("step", None, *step)
    form = floor.client.get(url("step", None, *step)).context["dispose_form"]
    assert [option[:2] for option in form.options()] == [
        ("repeat", "Do the step after all"),
        ("accept", "Leave it out"),
        ("stop", "Stop the clean"),
    ]


def test_a_mistyped_reading_is_put_right_and_both_stay(floor: Floor, running: StepRecord) -> None:
    first = floor.read(running, "temperature_c", 7.5)
    correct = reverse("turnarounds:correct_reading", args=[first.pk])
    before = counted(StepReading)
    refused = floor.client.post(correct, {"value": "75", "reason": ""})
    assert errors(refused) == {"reason": ["Say why."]}
    assert refused.context["form"]["value"].value() == "75"
    absurd = floor.client.post(correct, {"value": "750", "reason": "Point"})
    assert errors(absurd) == {
        "value": ["750 °C cannot be. It should lie between -10 °C and 150 °C."]
    }
    assert counted(StepReading) == before
    answer = floor.client.post(correct, {"value": "75", "reason": "Point in the wrong place"})
    second = StepReading.objects.latest("pk")
    assert answer.headers["Location"] == f"{url('step', running)}?latest={second.pk}#readings"
    text = words(floor.client.get(url("step", running)))
    assert "Instead of 7.5 °C: Point in the wrong place" in text
    assert "To decide" not in text


def test_a_correction_is_typed_in_the_sites_unit() -> None:
    floor = Floor(temperature_unit="F")
    record = floor.running_caustic()
    first = floor.read(record, "temperature_c", 20)
    correct = reverse("turnarounds:correct_reading", args=[first.pk])
    floor.client.post(correct, {"value": "158", "reason": "Mistyped"})
    assert StepReading.objects.latest("pk").value == pytest.approx(70)


# All together, and its cost


def test_the_whole_clean_by_what_the_screens_show(floor: Floor) -> None:
    """Every form is sent as it is shown, with the numbers typed in."""
    turnaround = floor.emptied(now=timezone.now())
    proposal = floor.client.get(reverse("turnarounds:regime", args=[turnaround.pk]))
    here = proposal.client.post(
        proposal.request["PATH_INFO"], {"version": floor.version.pk}
    ).headers["Location"]
    while "/steps/" in here:
        page = floor.client.get(here)
        screen = page.context["screen"]
        step = (screen.clean.pk, screen.step.pk)
        if "safety_form" in page.context:
            codes = [caution.code for caution, _ in page.context["safety_form"].ticks()]
            answer = floor.client.post(url("safety", None, *step), {"codes": codes})
        elif screen.state == "next":
            answer = floor.client.post(url("start_step", None, *step))
        elif screen.unread:
            form = page.context["reading_form"]
            data = as_shown(form)
            strength = "150" if data.get("basis") == "mg_l" else "2"
            values = {"concentration": strength, "temperature_c": "75", "flow_l_min": "150"}
            data["value"] = values[form.asked_quantity]
            answer = floor.client.post(url("read", None, *step), data)
        else:
            form = floor.client.get(url("end_step", None, *step)).context["form"]
            data = as_shown(form, end_criterion_met="yes", minutes="25")
            answer = floor.client.post(url("end_step", None, *step), data)
        assert answer.status_code == 302, answer.content.decode()
        here = answer.headers["Location"]
    clean = Clean.objects.get()
    assert here == reverse("turnarounds:finish", args=[clean.pk])
    floor.client.post(here)
    clean.refresh_from_db()
    assert clean.finished_at is not None
    assert clean.sanitised_at == clean.step_records.get(step__kind="sanitiser").ended_at
    assert Deviation.objects.count() == 0


def test_a_step_with_many_readings_costs_as_much_as_one_with_few(
    floor: Floor, running: StepRecord, django_assert_num_queries: Any
) -> None:
    floor.read(running, "temperature_c", 75)
    with django_assert_num_queries(13):
        floor.client.get(url("step", running))
    for _ in range(5):
        floor.read(running, "temperature_c", 75)
    with django_assert_num_queries(13):
        floor.client.get(url("step", running))


def test_times_are_the_brewerys_own() -> None:
    floor = Floor(time_zone="Pacific/Auckland")
    record = floor.running_caustic()
    there = record.started_at.astimezone(zoneinfo.ZoneInfo("Pacific/Auckland"))
    assert f"Started {there:%H:%M:%S} by" in words(floor.client.get(url("step", record)))
