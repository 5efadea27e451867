"""Ends, decisions and starts that arrive late: as of when they were typed."""

from datetime import datetime, timedelta
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.urls import reverse
from PIL import Image

from brewhygiene.delivery.models import Arrival
from brewhygiene.ledger.models import Entry
from brewhygiene.turnarounds.models import StepReading, StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.models.observations import StepPhoto
from tests import clock
from tests.factories import seen_well
from tests.turnarounds.floor import Floor
from tests.turnarounds.steps.sending import at, read_all, url, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor() -> Floor:
    return Floor(time_zone="Europe/Berlin")


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    record = floor.running_caustic(minutes_ago=40)
    read_all(floor, record)
    return record


def late(floor: Floor, typed: datetime, **more: str) -> dict[str, str]:
    return {
        "X-Kept-Person": str(floor.hand.pk),
        "X-Kept-Late": "yes",
        "X-Kept-Typed-At": typed.isoformat(),
        **more,
    }


def send(floor: Floor, address: str, typed: datetime, **fields: Any) -> HttpResponse:
    headers = late(floor, typed, **fields.pop("headers", {}))
    return floor.client.post(address, {"key": "k1", **fields}, headers=headers)


def end(floor: Floor, record: StepRecord, typed: datetime, **fields: Any) -> HttpResponse:
    seen = {one.observation: "yes" for one in seen_well(record.clean, record.step)}
    return send(floor, url("end_step", record), typed, record=record.pk, **seen, **fields)


def test_a_late_end_is_when_it_was_typed_by_the_tablets_timer(
    floor: Floor, running: StepRecord
) -> None:
    typed = running.started_at + timedelta(minutes=25)
    tablet = typed + timedelta(minutes=3)
    answer = end(floor, running, typed, client_time=tablet.isoformat(), note="Foam at the outlet")
    assert (answer.status_code, answer["X-Kept-Outcome"]) == (204, "taken")
    running.refresh_from_db()
    assert (running.ended_at, running.note) == (typed, "Foam at the outlet")
    timed = StepReading.objects.get(quantity="time_min")
    assert (timed.value, timed.source, timed.verdict) == (25, "tablet_timer", "within")
    assert timed.source_words == "tablet timer, offline, clock put right by -3 min"
    assert timed.taken_at == typed


def test_an_end_sent_at_once_is_the_servers(floor: Floor, running: StepRecord) -> None:
    data = {"record": running.pk, "key": "k1"}
    floor.client.post(url("end_step", running), data, headers={"X-Kept-Person": str(floor.hand.pk)})
    timed = StepReading.objects.get(quantity="time_min")
    assert (timed.value, timed.source) == (40, "server_timer")
    assert not Arrival.objects.exists()


def test_a_late_end_leaves_a_row_of_its_arrival_in_its_entry(
    floor: Floor, running: StepRecord
) -> None:
    typed = running.started_at + timedelta(minutes=25)
    end(floor, running, typed, headers={"X-Kept-Offset": "-180"})
    arrival = Arrival.objects.get()
    assert (arrival.name, arrival.subject_type, arrival.subject_id) == (
        "end step",
        "steprecord",
        running.pk,
    )
    assert (arrival.person, arrival.delivered_by, arrival.name_stated) == (
        floor.hand,
        floor.hand,
        False,
    )
    assert (arrival.typed_at, arrival.offset_s, arrival.unverified) == (typed, -180, False)
    assert arrival.clock_words == "clock put right by -3 min"
    said = Entry.objects.get(key="k1").values["arrived"]
    assert said["clock_offset_s"] == -180
    assert "name" not in said


@pytest.mark.parametrize("minutes", [-2, -60])
def test_an_end_before_its_start_is_refused(
    floor: Floor, running: StepRecord, minutes: int
) -> None:
    answer = end(floor, running, running.started_at + timedelta(minutes=minutes))
    assert answer.status_code == 422
    assert "the step ended before it began" in words(answer)
    running.refresh_from_db()
    assert running.ended_at is None


def test_an_end_before_a_reading_is_refused(floor: Floor, running: StepRecord) -> None:
    read_at = running.started_at + timedelta(minutes=30)
    floor.read(running, "temperature_c", 74, now=read_at)
    answer = end(floor, running, read_at - timedelta(seconds=1))
    assert answer.status_code == 422
    assert "This step was read at" in words(answer)
    assert end(floor, running, read_at).status_code == 204


def test_a_late_end_needs_its_readings_first(floor: Floor, running: StepRecord) -> None:
    """A reading typed before the end and sent before it counts; nothing is named unread."""
    typed = running.started_at + timedelta(minutes=25)
    assert end(floor, running, typed).status_code == 204
    assert list(Deviation.objects.values_list("kind", flat=True)) == []


def test_a_photo_comes_with_a_late_end_and_is_from_then(floor: Floor) -> None:
    then = clock.now() - timedelta(minutes=40)
    clean = floor.at_step(3, minutes_ago=120)
    record = floor.running_step(clean, 3, now=then)
    floor.end_read(record, record.step, now=then)
    content = BytesIO()
    Image.new("RGB", (8, 8), "white").save(content, "JPEG")
    seen = {one.observation: "yes" for one in seen_well(record.clean, record.step)}
    first = next(iter(seen))
    photo = SimpleUploadedFile("photo.jpg", content.getvalue(), "image/jpeg")
    typed = then + timedelta(minutes=12)
    answer = send(
        floor,
        url("end_step", record),
        typed,
        record=record.pk,
        end_criterion_met="yes",
        **{**seen, f"{first}_photo": photo},
    )
    assert answer.status_code == 204, words(answer)
    assert StepPhoto.objects.get().taken_at == typed


def deviation(floor: Floor, record: StepRecord, *, minutes: int) -> Deviation:
    found = record.started_at + timedelta(minutes=minutes)
    floor.read(record, "temperature_c", 40, now=found)
    return Deviation.objects.get(kind="below")


def test_a_late_decision_is_from_when_it_was_typed(floor: Floor, running: StepRecord) -> None:
    low = deviation(floor, running, minutes=5)
    typed = low.found_at + timedelta(minutes=3)
    address = reverse("turnarounds:dispose", args=[low.pk])
    assert send(floor, address, typed, disposition="heat").status_code == 204
    low.refresh_from_db()
    assert (low.disposition, low.disposed_at) == ("heat", typed)


@pytest.mark.parametrize(
    ("disposition", "taken"),
    [("accept", True), ("extend", True), ("heat", True), ("repeat", False), ("stop", False)],
)
def test_only_what_leaves_the_step_as_it_runs_is_decided_late(
    floor: Floor, running: StepRecord, disposition: str, taken: bool
) -> None:
    low = deviation(floor, running, minutes=5)
    page = floor.client.get(reverse("turnarounds:dispose", args=[low.pk])).content.decode()
    shown = page.split(f'value="{disposition}"')[1].split(">")[0]
    assert ("data-needs-server" in shown) is not taken
    answer = send(
        floor,
        reverse("turnarounds:dispose", args=[low.pk]),
        low.found_at + timedelta(minutes=1),
        disposition=disposition,
        reason="Because",
    )
    assert (answer.status_code == 204) is taken
    assert taken or "This decision needs the network" in words(answer)
    low.refresh_from_db()
    assert bool(low.disposition) is taken


def test_a_decision_from_before_its_deviation_is_refused(floor: Floor, running: StepRecord) -> None:
    low = deviation(floor, running, minutes=5)
    address = reverse("turnarounds:dispose", args=[low.pk])
    answer = send(floor, address, low.found_at - timedelta(minutes=2), disposition="heat")
    assert answer.status_code == 422
    assert "before the deviation was found" in words(answer)


def confirm(floor: Floor, clean: Any, order: int, typed: datetime) -> HttpResponse:
    address = url("safety", None, *at(clean, order))
    page = floor.client.get(url("step", None, *at(clean, order)))
    form = page.context.get("safety_form")
    codes = [caution.code for caution in form.cautions] if form else []
    return send(floor, address, typed, codes=codes)


def test_a_rinse_started_without_a_network_began_when_it_was_typed(floor: Floor) -> None:
    clean = floor.at_step(3, minutes_ago=60)
    typed = clock.now() - timedelta(minutes=10)
    answer = confirm(floor, clean, 3, typed)
    assert (answer.status_code, answer["X-Kept-Outcome"]) == (204, "taken")
    record = StepRecord.objects.get(clean=clean, step__order=3)
    assert record.started_at == typed
    assert clean.acknowledgements.get(step__order=3).acknowledged_at == typed
    assert Entry.objects.get(verb="start step", subject_id=record.pk).values["arrived"]
    # Its minutes are the tablet's, though the server saw its end.
    floor.end_read(record, record.step)
    seen = {one.observation: "yes" for one in seen_well(record.clean, record.step)}
    answer = floor.client.post(
        url("end_step", record), {"record": record.pk, "end_criterion_met": "yes", **seen}
    )
    assert answer.status_code == 302
    assert Entry.objects.get(verb="end step", subject_id=record.pk).values["source"] == (
        "tablet_timer"
    )


@pytest.mark.parametrize("order", [2, 4])
def test_a_step_with_an_agent_does_not_start_late(floor: Floor, order: int) -> None:
    clean = floor.at_step(order, minutes_ago=90)
    answer = confirm(floor, clean, order, clock.now() - timedelta(minutes=5))
    assert answer.status_code == 422
    assert "with an agent needs the network to start." in words(answer)
    assert not StepRecord.objects.filter(clean=clean, step__order=order).exists()


def test_a_start_before_the_last_end_is_refused(floor: Floor) -> None:
    clean = floor.at_step(3, minutes_ago=60)
    last = max(r.ended_at for r in clean.step_records.all() if r.ended_at)
    answer = confirm(floor, clean, 3, last - timedelta(minutes=5))
    assert answer.status_code == 422
    assert "before the one before it ended" in words(answer)


def test_a_step_that_may_wait_says_nothing(floor: Floor) -> None:
    rinse = words(floor.client.get(url("step", None, *at(floor.at_step(3), 3))))
    assert "needs the network to start" not in rinse
    assert 'data-keep="once"' in rinse


def test_a_step_that_needs_the_network_says_why(floor: Floor) -> None:
    caustic = words(floor.client.get(url("step", None, *at(floor.at_step(2), 2))))
    assert 'data-needs-server="Caustic with an agent needs the network to start."' in caustic


def test_the_next_step_is_carried_along_and_opens_before_its_turn(floor: Floor) -> None:
    record = floor.running_caustic(minutes_ago=30)
    ahead = url("ahead", None, *at(record.clean, 3))
    assert f'data-carry href="{ahead}"' in words(floor.client.get(url("step", record)))
    answer = floor.client.get(ahead)
    assert answer.status_code == 200
    assert "End caustic first." in words(answer)
    assert 'data-keep="once"' in words(answer)
    # What needs the server is not carried, nor what comes after the next.
    assert floor.client.get(url("ahead", None, *at(record.clean, 4))).status_code == 302
    assert floor.client.get(url("ahead", record)).status_code == 302


def test_an_end_and_start_in_one_tap_that_arrive_late_keep_both_times(floor: Floor) -> None:
    """The second begins when the first ended; what needs the network does not begin."""
    clean = floor.at_step(3, minutes_ago=120)
    then = clock.now() - timedelta(minutes=40)
    record = floor.running_step(clean, 3, now=then)
    floor.end_read(record, record.step, now=then)
    typed = then + timedelta(minutes=12)
    seen = {one.observation: "yes" for one in seen_well(record.clean, record.step)}
    address = f"{url('end_step', record)}?then=start"
    answer = send(floor, address, typed, record=record.pk, end_criterion_met="yes", **seen)
    assert answer.status_code == 204
    record.refresh_from_db()
    assert record.ended_at == typed
    assert not StepRecord.objects.filter(clean=clean, step__order=4).exists()


def test_a_late_end_does_not_finish_the_clean(floor: Floor) -> None:
    clean = floor.at_step(4, minutes_ago=120)
    then = clock.now() - timedelta(minutes=40)
    record = floor.running_step(clean, 4, now=then)
    floor.read(record, "concentration", 150, basis="mg_l", now=then)
    address = f"{url('end_step', record)}?then=finish"
    answer = send(floor, address, then + timedelta(minutes=12), record=record.pk)
    assert answer.status_code == 204
    clean.refresh_from_db()
    assert clean.finished_at is None
