"""How observations are asked for and shown: at the end of a step, on its lines, in the record."""

import hashlib
import io
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from PIL import Image

from brewhygiene.reports.record.pdf import record_html
from brewhygiene.turnarounds.actions import finish_clean
from brewhygiene.turnarounds.afterwards.actions import enter_clean
from brewhygiene.turnarounds.models import StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.models.observations import StepPhoto
from tests import clock
from tests.factories import acting, seen_well
from tests.reports.pdf.text import words_of
from tests.turnarounds.floor import Floor, errors
from tests.turnarounds.steps.sending import at, url, words

pytestmark = pytest.mark.django_db
YES = {"end_criterion_met": "yes", "looks_clean": "yes", "smells_clean": "yes"}


@pytest.fixture
def floor() -> Floor:
    return Floor()


@pytest.fixture
def rinsing(floor: Floor) -> StepRecord:
    """The last rinse, after hot caustic, read and waiting for its end."""
    clean = floor.at_step(3, minutes_ago=60)
    record = floor.running_step(clean, 3, now=clock.now() - timedelta(minutes=5))
    floor.read(record, "ph", 7.2)
    return record


def picture(name: str = "cone.png") -> SimpleUploadedFile:
    file = io.BytesIO()
    Image.new("RGB", (8, 8), "white").save(file, "PNG")
    return SimpleUploadedFile(name, file.getvalue(), content_type="image/png")


def end(floor: Floor, record: StepRecord, **values: Any) -> HttpResponse:
    return floor.client.post(url("end_step", record), {"record": record.pk, **values})


def test_the_end_asks_for_each_that_applies(floor: Floor, rinsing: StepRecord) -> None:
    form = floor.client.get(url("end_step", rinsing)).context["form"]
    assert [asked.answer.label for asked in form.asked_fields()] == ["Looks clean", "Smells clean"]
    assert form.notes_open is False
    answer = end(floor, rinsing, **YES)
    assert answer.headers["Location"] == url("step", None, *at(rinsing.clean, 4))
    assert Deviation.objects.count() == 0


def test_a_step_that_asks_for_none_has_no_field_of_it(floor: Floor) -> None:
    page = floor.client.get(url("end_step", floor.running_caustic()))
    assert page.context["form"].asked_fields() == []
    assert "multipart" not in words(page)
    assert "Add a note" in words(page)


def test_what_is_missing_stands_beside_its_field_and_nothing_is_lost(
    floor: Floor, rinsing: StepRecord
) -> None:
    given = {**YES, "smells_clean": "", "looks_clean_note": "Shines", "note": "Kept"}
    answer = end(floor, rinsing, **given)
    assert answer.status_code == 422
    assert errors(answer) == {"smells_clean": ["Choose Yes or No: smells clean."]}
    form = answer.context["form"]
    assert (form["looks_clean"].value(), form["note"].value()) == ("yes", "Kept")
    assert form["looks_clean_note"].value() == "Shines"
    assert form.notes_open is True


def test_a_no_without_a_note_opens_its_field(floor: Floor, rinsing: StepRecord) -> None:
    answer = end(floor, rinsing, **{**YES, "smells_clean": "no"})
    assert errors(answer) == {"smells_clean_note": ["Enter what you found."]}
    assert answer.context["form"].notes_open is True


def test_a_file_that_is_no_photo_is_refused_beside_its_field(
    floor: Floor, rinsing: StepRecord
) -> None:
    bad = SimpleUploadedFile("cone.jpg", b"no picture at all")
    answer = end(floor, rinsing, **YES, looks_clean_photo=bad)
    assert errors(answer) == {
        "looks_clean_photo": ["This file is not a readable photo. Choose a JPEG, PNG or WebP file."]
    }
    assert answer.context["form"].notes_open is True
    assert StepPhoto.objects.count() == 0


def test_a_photo_is_shown_to_the_signed_in_only(floor: Floor, rinsing: StepRecord) -> None:
    assert end(floor, rinsing, **YES, looks_clean_photo=picture()).status_code == 302
    photo = StepPhoto.objects.get()
    address = reverse("turnarounds:step_photo", args=[photo.pk])
    page = floor.client.get(url("step", rinsing))
    assert f'<a href="{address}">photo</a>' in words(page)
    answer = floor.client.get(address)
    assert answer["Content-Type"] == "image/jpeg"
    kept = answer.getvalue()
    with Image.open(io.BytesIO(kept)) as image:
        assert image.format == "JPEG"
    assert Client().get(address)["Location"] == f"/sign-in/?next={address}"
    sha256 = hashlib.sha256(kept).hexdigest()
    printed = words_of(record_html(rinsing.clean.turnaround, now=clock.now()))
    assert f"looks clean (photo, SHA-256 {sha256}); smells clean." in printed


def test_a_no_shows_on_its_lines_and_in_the_record(floor: Floor, rinsing: StepRecord) -> None:
    found = {"looks_clean": "no", "looks_clean_note": "film at the cone"}
    assert end(floor, rinsing, **{**YES, **found}).headers["Location"] == url("step", rinsing)
    deviation = Deviation.objects.get()
    assert deviation.description == "Does not look clean: film at the cone"
    assert "Does not look clean: film at the cone" in words(floor.client.get(url("step", rinsing)))
    clean = rinsing.clean
    floor.client.post(
        reverse("turnarounds:dispose", args=[deviation.pk]),
        {"disposition": "accept", "reason": "Wiped by hand"},
    )
    when = f"{floor.hand}, {clock.local():%H:%M}"
    for page in (
        floor.client.get(reverse("turnarounds:clean", args=[clean.pk])),
        floor.client.get(url("step", rinsing)),
    ):
        assert f"Does not look clean: film at the cone ({when})" in words(page)
        assert f"Smells clean ({when})" in words(page)
    printed = words_of(record_html(clean.turnaround, now=clock.now()))
    assert "Observed by Jonas Feld (JF), " in printed
    assert ": does not look clean: film at the cone; smells clean. " in printed
    assert "Does not look clean: film at the cone. Accept with a reason: Wiped by hand." in printed


def test_a_no_stands_where_it_is_decided(floor: Floor, rinsing: StepRecord) -> None:
    end(floor, rinsing, **{**YES, "smells_clean": "no", "smells_clean_note": "hop oil"})
    deviation = Deviation.objects.get()
    floor.client.post(
        reverse("turnarounds:dispose", args=[deviation.pk]),
        {"disposition": "accept", "reason": "Dry hop goes in next"},
    )
    clean = rinsing.clean
    floor.run_step(clean, 4, now=clock.now())
    clock.move_on(timedelta(minutes=10))
    finish_clean(by=acting(floor.hand, now=clock.now()), clean=clean)
    floor.client.force_login(floor.brewer, backend="django.contrib.auth.backends.ModelBackend")
    page = words(floor.client.get(reverse("release:decide", args=[clean.turnaround_id])))
    assert "Does not smell clean: hop oil: accept with a reason, Dry hop goes in next" in page


def test_a_clean_entered_afterwards_states_them(floor: Floor) -> None:
    then = clock.now() - timedelta(minutes=180)
    turnaround = floor.emptied(now=then)
    clean = enter_clean(
        by=acting(floor.hand, now=clock.now()),
        turnaround=turnaround,
        version=floor.quick,
        started_at=then,
        reason="The tablet was broken",
    )
    step = clean.version.steps.get(order=1)
    assert [one.observation for one in seen_well(clean, step)] == ["looks_clean", "smells_clean"]
    local = clock.local() - timedelta(minutes=100)
    times = {
        "started_at": f"{local - timedelta(minutes=10):%Y-%m-%dT%H:%M}",
        "ended_at": f"{local:%Y-%m-%dT%H:%M}",
    }
    address = url("state_step", None, clean.pk, step.pk)
    assert errors(floor.client.post(address, times)) == {
        "looks_clean": ["Choose Yes or No: looks clean."]
    }
    answer = floor.client.post(address, {**times, "looks_clean": "yes", "smells_clean": "yes"})
    assert answer.status_code == 302, errors(answer)
    shown = words(floor.client.get(reverse("turnarounds:clean", args=[clean.pk])))
    assert f"Looks clean ({floor.hand}, {local:%H:%M}, stated afterwards)" in shown
    printed = words_of(record_html(turnaround, now=clock.now()))
    assert "(stated afterwards): looks clean; smells clean." in printed
