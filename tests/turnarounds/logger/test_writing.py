"""The readings that are written from a logger file."""

import pytest
from django.urls import reverse

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import StepKind
from brewhygiene.release.gates import Answer, gates_of
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.logger.actions import fingerprint
from brewhygiene.turnarounds.models import (
    StepReading,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.readings import actions as step_reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from tests import clock
from tests.factories import acting, add_step, make_version, make_vessel
from tests.turnarounds.floor import counted, errors, signed_in
from tests.turnarounds.logger.files import SEGMENTS, Logged, cards_of, place

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene() -> Logged:
    return Logged()


def test_readings_are_written_with_the_file_as_evidence(scene: Logged) -> None:
    record = scene.caustic(readings=False, ended=False)
    logger_file = scene.logger_file()
    answer = scene.write(logger_file, [record])
    assert (answer.status_code, answer.url) == (302, f"/cleans/{scene.clean.pk}/")
    found = {r.quantity: r for r in record.readings.all()}
    assert {name: (r.value, r.stage, r.verdict) for name, r in found.items()} == {
        "temperature_c": (75, "return", "within"),
        "flow_l_min": (150, "return", "within"),
    }
    for reading in found.values():
        assert (reading.logger_file, reading.taken_by) == (logger_file, scene.hand)
        assert reading.taken_at == scene.at(14)
    assert found["temperature_c"].method == (
        f"logger file, least of 156 readings, {scene.at(14):%H:%M} to {scene.at(39):%H:%M}"
    )
    assert Deviation.objects.count() == 0


def test_minutes_are_written_once_the_step_has_ended(scene: Logged) -> None:
    record = scene.caustic(ended=False)
    logger_file = scene.logger_file()
    card = cards_of(scene, logger_file)[2]
    assert card.silent_words == (
        "Strength is not in the file. Minutes are written after the step has ended."
    )
    step_actions.end_step(by=acting(scene.hand, now=scene.at(40)), record=record)
    place(scene, logger_file)
    scene.write(logger_file, [record])
    written = record.readings.get(quantity="time_min", logger_file=logger_file)
    assert (written.value, written.stage, written.verdict) == (25.8, "end", "within")
    assert written.method == (
        "logger file, minutes with temperature and flow inside the window, "
        f"{scene.at(14):%H:%M} to {scene.at(39):%H:%M}"
    )


def test_reading_outside_its_window_is_a_deviation_as_usual(scene: Logged) -> None:
    record = scene.caustic()
    scene.write(
        scene.logger_file(scene.csv([*SEGMENTS[:2], (26, 58, 150, 92), *SEGMENTS[3:]])), [record]
    )
    assert [str(d) for d in Deviation.objects.filter(record=record)] == [
        "Temperature 58 °C, at the return: below 60 °C",
        "Time 0 min, at the end: below 20 min",
    ]
    answer = scene.client.get(reverse("turnarounds:step", args=[scene.clean.pk, record.step_id]))
    assert answer.context["screen"].state == "deviation"


def test_minutes_too_few_are_a_deviation(scene: Logged) -> None:
    record = scene.caustic()
    short = [*SEGMENTS[:2], (15, 75, 150, 92), (11, 75, 60, 92), *SEGMENTS[3:]]
    logger_file = scene.logger_file(scene.csv(short))
    place(scene, logger_file, **{f"step_{record.pk}": "timed"})
    scene.write(logger_file, [record])
    time = record.readings.get(quantity="time_min", logger_file=logger_file)
    # From half-way up to 75 °C, 835 s, to a third of the way down from 150 L/min, 1733.3 s:
    # 14.97 min, cut and not rounded.
    assert (time.value, time.verdict) == (14.9, "below")


def test_greatest_is_written_too_where_it_is_above_the_window(scene: Logged) -> None:
    record = scene.caustic()
    peak = [(12, 75, 150, 92), (0.5, 90, 150, 92), (13.5, 75, 150, 92)]
    logger_file = scene.logger_file(scene.csv([*SEGMENTS[:2], *peak, *SEGMENTS[3:]]))
    scene.write(logger_file, [record])
    readings = record.readings.filter(quantity="temperature_c", logger_file=logger_file)
    assert [(r.value, r.verdict, r.method.split(" of ")[0]) for r in readings] == [
        (75, "within", "logger file, least"),
        (90, "above", "logger file, greatest"),
    ]


def test_rinse_is_judged_at_its_end(scene: Logged) -> None:
    scene.version = make_version(steps=False, name="Rinse alone (invented)")
    add_step(scene.version, StepKind.RINSE, windows={"conductivity_ms_cm": (None, 1)})
    actions.stop_clean(by=acting(scene.hand, now=scene.at(9)), clean=scene.clean, reason="Pump")
    scene.clean = scene.started(scene.clean.turnaround, now=scene.at(10))
    record = scene.running_step(scene.clean, 1, now=scene.at(30))
    logger_file = scene.logger_file(scene.csv(SEGMENTS[:4]))
    place(scene, logger_file, **{f"step_{record.pk}": "timed"})
    (line,) = cards_of(scene, logger_file)[1].readings
    assert (line.title, line.stage) == ("Conductivity 0.5 mS/cm", "at the end")


def test_reading_of_a_file_settles_that_it_was_not_read(scene: Logged) -> None:
    record = scene.caustic(readings=False)
    logger_file = scene.logger_file()
    lines = {
        line.candidate.quantity: line.settles for line in cards_of(scene, logger_file)[2].readings
    }
    assert lines == {
        "temperature_c": "Temperature was not read",
        "time_min": "",
        "flow_l_min": "Flow was not read",
    }
    page = scene.client.get(reverse("turnarounds:logger_file", args=[logger_file.pk]))
    assert "Closes the deviation: Flow was not read." in page.content.decode()
    scene.write(logger_file, [record])
    reason = "read from the logger file invented.csv"
    found = Deviation.objects.filter(record=record)
    assert {d.quantity: (d.disposition, d.reason, d.disposed_by) for d in found} == {
        # Strength is not in the file: somebody has still to decide.
        "concentration": ("", "", None),
        "temperature_c": ("read", reason, scene.hand),
        "flow_l_min": ("read", reason, scene.hand),
    }
    written = Entry.objects.latest("pk").values["readings"]
    assert [line["settles"] for line in written] == [
        ["Temperature was not read"],
        [],
        ["Flow was not read"],
    ]


def test_what_a_file_has_read_needs_no_explaining_at_the_release(scene: Logged) -> None:
    record = scene.running_step(scene.clean, 2, now=scene.at(10))
    scene.read(record, "concentration", 2, basis="ww", now=scene.at(15))
    step_actions.end_step(by=acting(scene.hand, now=scene.at(40)), record=record)
    scene.write(scene.logger_file(), [record])
    for order, minute in ((3, 41), (4, 50)):
        scene.run_step(scene.clean, order, now=scene.at(minute))
    actions.finish_clean(by=acting(scene.hand, now=scene.at(60)), clean=scene.clean)
    now = scene.at(70)
    dossier = load_dossier(scene.clean.turnaround, now=now)
    found = gates_of(dossier, brewery=Brewery.current(), now=now, user=scene.brewer)
    (gate,) = [gate for gate in found if gate.code == "deviations"]
    settled = "was not read: read later, read from the logger file invented.csv (Jonas Feld)"
    assert (gate.answer, gate.evidence) == (
        Answer.YES,
        (f"Temperature {settled}", f"Flow {settled}"),
    )


def test_late_reading_outside_its_window_is_a_deviation_of_its_own(scene: Logged) -> None:
    record = scene.caustic(readings=False)
    cold = [*SEGMENTS[:2], (26, 58, 150, 92), *SEGMENTS[3:]]
    scene.write(scene.logger_file(scene.csv(cold)), [record])
    assert [
        (str(d), d.disposition)
        for d in Deviation.objects.filter(record=record, quantity="temperature_c")
    ] == [
        ("Temperature was not read", "read"),
        ("Temperature 58 °C, at the return: below 60 °C", ""),
    ]


def test_what_was_decided_before_the_file_came_stays_decided(scene: Logged) -> None:
    record = scene.caustic(readings=False)
    unread = record.deviations.get(quantity="flow_l_min")
    deviation_actions.dispose_deviation(
        by=acting(scene.brewer, now=scene.at(41)),
        deviation=unread,
        disposition="accept",
        reason="Pump runs at a fixed speed",
    )
    scene.write(scene.logger_file(), [record])
    unread.refresh_from_db()
    assert (unread.disposition, unread.reason) == ("accept", "Pump runs at a fixed speed")


def test_person_cannot_decide_that_it_was_read(scene: Logged) -> None:
    record = scene.caustic(readings=False)
    with pytest.raises(Refusal, match="Choose a decision"):
        deviation_actions.dispose_deviation(
            by=acting(scene.hand, now=scene.at(41)),
            deviation=record.deviations.first(),
            disposition="read",
            reason="It was read",
        )


def test_reading_by_hand_stands_beside_and_the_page_says_so(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    lines = {line.candidate.quantity: line for line in cards_of(scene, logger_file)[2].readings}
    assert lines["temperature_c"].beside == ["76 °C, by hand, Jonas Feld"]
    page = scene.client.get(reverse("turnarounds:logger_file", args=[logger_file.pk]))
    text = " ".join(page.content.decode().split())
    assert "Also on record: 76 °C, by hand, Jonas Feld. Both stay." in text
    scene.write(logger_file, [record])
    values = record.readings.filter(quantity="temperature_c").values_list("value", flat=True)
    assert list(values) == [76, 75]


def test_readings_are_not_written_twice(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    scene.write(logger_file, [record])
    before = counted(StepReading, Deviation)
    answer = scene.write(logger_file, [record])
    assert answer.status_code == 422
    assert errors(answer, "writing") == {
        "records": [
            ("2. caustic: these readings are already written. Correct a reading in its step.")
        ]
    }
    assert counted(StepReading, Deviation) == before


def test_corrected_reading_of_a_file_is_not_written_again(scene: Logged) -> None:
    record = scene.caustic(readings=False, ended=False)
    logger_file = scene.logger_file()
    scene.write(logger_file, [record])
    reading = record.readings.get(quantity="temperature_c")
    step_reading_actions.correct_reading(
        by=acting(scene.hand, now=clock.now()), reading=reading, value=74, reason="Sensor"
    )
    line = cards_of(scene, logger_file)[2].readings[0]
    assert (line.candidate.already, line.candidate.beside) == (True, ())


def test_written_twice_by_one_form_is_written_once(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    seen = fingerprint(logger_file)
    data = {"seen": seen, "records": [record.pk], "key": "tap"}
    url = reverse("turnarounds:write_logger_file", args=[logger_file.pk])
    assert [scene.client.post(url, data).status_code for _ in range(2)] == [302, 302]
    assert record.readings.filter(logger_file=logger_file).count() == 3


def test_what_was_not_looked_at_is_not_written(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    before = counted(StepReading)
    answer = scene.write(logger_file, [record], seen="0123456789abcdef")
    assert errors(answer, "writing") == {
        "__all__": [
            "This file was evaluated again since the page was opened. Check the readings again."
        ]
    }
    unchecked = scene.logger_file(scene.csv(SEGMENTS[:4]), checked=False)
    answer = scene.write(unchecked, [record])
    assert errors(answer, "writing") == {
        "__all__": ["The columns are not confirmed yet. Confirm the columns first."]
    }
    assert counted(StepReading)[0] == before[0]


def test_no_step_chosen_is_said(scene: Logged) -> None:
    scene.caustic()
    logger_file = scene.logger_file()
    answer = scene.write(logger_file, [])
    assert errors(answer, "writing") == {
        "records": ["Choose at least one step to write readings for."]
    }


def test_attempt_that_was_given_up_gets_nothing(scene: Logged) -> None:
    record = scene.caustic(readings=False)
    for deviation in Deviation.objects.filter(record=record)[:1]:
        deviation_actions.dispose_deviation(
            by=acting(scene.hand, now=scene.at(41)), deviation=deviation, disposition="repeat"
        )
    scene.running_step(scene.clean, 2, now=scene.at(42))
    logger_file = scene.logger_file()
    assert (
        "Write readings to 2. caustic, attempt 1"
        not in scene.client.get(
            reverse("turnarounds:logger_file", args=[logger_file.pk])
        ).content.decode()
    )
    answer = scene.write(logger_file, [record])
    assert errors(answer, "writing") == {
        "records": ["2. caustic, attempt 1: a later attempt replaced this one."]
    }


def test_minutes_of_a_prolonged_attempt_count_together(scene: Logged) -> None:
    first = scene.running_step(scene.clean, 2, now=scene.at(14))
    for quantity, value in (("concentration", 2), ("temperature_c", 75), ("flow_l_min", 150)):
        basis = "ww" if quantity == "concentration" else ""
        scene.read(first, quantity, value, basis=basis, now=scene.at(15))
    step_actions.end_step(by=acting(scene.hand, now=scene.at(24)), record=first)
    deviation_actions.dispose_deviation(
        by=acting(scene.hand, now=scene.at(24)),
        deviation=Deviation.objects.get(record=first),
        disposition="extend",
    )
    second = scene.running_step(scene.clean, 2, now=scene.at(26))
    step_actions.end_step(by=acting(scene.hand, now=scene.at(38)), record=second)
    logger_file = scene.logger_file()
    place(scene, logger_file, **{f"step_{first.pk}": "timed", f"step_{second.pk}": "timed"})
    scene.write(logger_file, [second])
    # 14 to 24 and 26 to 38.
    assert second.readings.get(quantity="time_min", logger_file=logger_file).value == 22.0


def test_finished_clean_keeps_the_file_and_writes_nothing(scene: Logged) -> None:
    turnaround = scene.cleaned(now=scene.start, vessel=make_vessel())
    scene.clean = turnaround.cleans.get()
    logger_file = scene.logger_file()
    page = scene.client.get(reverse("turnarounds:logger_file", args=[logger_file.pk]))
    text = " ".join(page.content.decode().split())
    assert "The file stays as evidence. No reading is written from it." in text
    assert "Write readings</button>" not in text
    before = counted(StepReading)
    answer = scene.write(logger_file, list(scene.clean.step_records.all()))
    assert errors(answer, "writing") == {
        "__all__": [
            ("This clean is finished, so no reading can be written. The file stays as evidence.")
        ]
    }
    assert counted(StepReading) == before


def test_writing_is_in_the_ledger_with_its_numbers(scene: Logged) -> None:
    record = scene.caustic()
    logger_file = scene.logger_file()
    scene.write(logger_file, [record])
    entry = Entry.objects.order_by("-id")[0]
    assert (entry.verb, entry.values["sha256"]) == (
        "write logger_file readings",
        logger_file.sha256,
    )
    assert [(r["reading"], r["value"], r["verdict"]) for r in entry.values["readings"]] == [
        ("temperature 75 °C", 75, "within"),
        ("time 25.8 min", 25.8, "within"),
        ("flow 150 L/min", 150, "within"),
    ]


def test_written_reading_says_where_it_is_from(scene: Logged) -> None:
    record = scene.caustic()
    scene.write(scene.logger_file(), [record])
    answer = scene.client.get(reverse("turnarounds:step", args=[scene.clean.pk, record.step_id]))
    text = " ".join(answer.content.decode().split())
    assert "Logger file, least of 156 readings, " in text


@pytest.mark.parametrize("person, code", [("hand", 422), ("brewer", 422), ("owner", 403)])
def test_who_may_place_and_write(scene: Logged, person: str, code: int) -> None:
    scene.caustic()
    logger_file = scene.logger_file()
    client = signed_in(getattr(scene, person))
    assert client.get(reverse("turnarounds:logger_file", args=[logger_file.pk])).status_code == 200
    for name in ("place_logger_file", "write_logger_file"):
        assert (
            client.post(reverse(f"turnarounds:{name}", args=[logger_file.pk]), {}).status_code
            == code
        )
