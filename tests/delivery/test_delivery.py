"""What tablets kept: sent as the one who typed it, taken once, by the time it was typed."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from PIL import Image

from brewhygiene.atp.models.readings import Result
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.turnarounds.models import StepReading, StepRecord
from tests import clock
from tests.turnarounds.floor import Floor, signed_in
from tests.turnarounds.steps.sending import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor() -> Floor:
    return Floor(time_zone="Europe/Berlin")


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    return floor.running_caustic(minutes_ago=30)


def deliver(
    client: Client, record: StepRecord, *, person: User, key: str = "k1", **headers: str
) -> HttpResponse:
    address = reverse("turnarounds:read", args=[record.clean_id, record.step_id])
    typed: dict[str, Any] = {
        "key": key,
        "record": record.pk,
        "quantity": "temperature_c",
        "by": "straight",
        "value": "75",
        "stage": "return",
    }
    return client.post(address, typed, headers={"X-Kept-Person": str(person.pk), **headers})


def test_a_delivered_form_is_taken_and_says_where_it_leads(
    floor: Floor, running: StepRecord
) -> None:
    answer = deliver(signed_in(floor.hand), running, person=floor.hand)
    assert answer.status_code == 204
    assert answer["X-Kept-Outcome"] == "taken"
    assert answer["X-Kept-Went-To"].startswith(f"/cleans/{running.clean_id}/")
    assert "Location" not in answer
    assert StepReading.objects.filter(quantity="temperature_c").count() == 1


def test_ten_times_the_same_is_taken_once(floor: Floor, running: StepRecord) -> None:
    client = signed_in(floor.hand)
    outcomes = [deliver(client, running, person=floor.hand)["X-Kept-Outcome"] for _ in range(10)]
    assert outcomes == ["taken", *["already"] * 9]
    assert StepReading.objects.filter(quantity="temperature_c").count() == 1


def test_it_is_never_sent_as_somebody_else(floor: Floor, running: StepRecord) -> None:
    answer = deliver(signed_in(floor.brewer), running, person=floor.hand)
    assert (answer.status_code, answer["X-Kept-Outcome"]) == (409, "other-person")
    assert not StepReading.objects.filter(quantity="temperature_c").exists()


def test_another_persons_key_is_not_already_taken(floor: Floor, running: StepRecord) -> None:
    deliver(signed_in(floor.brewer), running, person=floor.brewer)
    answer = deliver(signed_in(floor.hand), running, person=floor.hand)
    assert answer.status_code == 422
    assert "X-Kept-Outcome" not in answer


def test_signed_out_it_keeps_waiting(floor: Floor, running: StepRecord) -> None:
    answer = deliver(Client(), running, person=floor.hand)
    assert (answer.status_code, answer["X-Kept-Outcome"]) == (401, "signed-out")


def test_a_key_that_does_not_fit_is_refused_whole(floor: Floor, running: StepRecord) -> None:
    answer = deliver(signed_in(floor.hand), running, person=floor.hand, key="x" * 65)
    assert answer.status_code == 400
    assert not Entry.objects.filter(key__startswith="xxx").exists()


def test_what_comes_late_was_read_when_it_was_typed(floor: Floor, running: StepRecord) -> None:
    typed = clock.now() - timedelta(minutes=20)
    late = {"X-Kept-Late": "yes", "X-Kept-Typed-At": typed.isoformat()}
    deliver(signed_in(floor.hand), running, person=floor.hand, **late)
    reading = StepReading.objects.get(quantity="temperature_c")
    assert reading.taken_at == typed
    entry = Entry.objects.get(key="k1")
    assert entry.recorded_at >= clock.now() - timedelta(seconds=1)
    assert entry.values["taken_at"].startswith(typed.strftime("%Y-%m-%dT%H:%M:%S"))


def test_what_is_sent_at_once_goes_by_the_servers_clock(floor: Floor, running: StepRecord) -> None:
    typed = clock.now() - timedelta(minutes=20)
    now = {"X-Kept-Typed-At": typed.isoformat()}
    deliver(signed_in(floor.hand), running, person=floor.hand, **now)
    assert StepReading.objects.get(quantity="temperature_c").taken_at > typed + timedelta(minutes=9)


def test_a_tablets_clock_in_the_future_is_brought_to_now(floor: Floor, running: StepRecord) -> None:
    ahead = (clock.now() + timedelta(hours=5)).isoformat()
    late = {"X-Kept-Late": "yes", "X-Kept-Typed-At": ahead}
    deliver(signed_in(floor.hand), running, person=floor.hand, **late)
    assert StepReading.objects.get(quantity="temperature_c").taken_at <= clock.now()


def test_a_reading_from_before_its_step_is_refused_in_words(
    floor: Floor, running: StepRecord
) -> None:
    before = (running.started_at - timedelta(hours=1)).isoformat()
    late = {"X-Kept-Late": "yes", "X-Kept-Typed-At": before}
    answer = deliver(signed_in(floor.hand), running, person=floor.hand, **late)
    assert answer.status_code == 422
    assert b"read before the step began" in answer.content
    assert not StepReading.objects.filter(quantity="temperature_c").exists()


def test_a_late_sample_was_taken_when_it_was_typed(floor: Floor) -> None:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40))
    floor.checked(now=clock.now() - timedelta(minutes=35))
    client = signed_in(floor.hand)
    address = reverse("atp:sample", args=[turnaround.pk, floor.point.pk])
    form = client.get(address).context["form"]
    data = {
        "key": "s1",
        "meter": form["meter"].value(),
        "test_lot": form["test_lot"].value(),
        "rinse_end": form["rinse_end"].value(),
        "rlu": "7",
    }
    typed = clock.now() - timedelta(minutes=12)
    headers = {
        "X-Kept-Person": str(floor.hand.pk),
        "X-Kept-Late": "yes",
        "X-Kept-Typed-At": typed.isoformat(),
    }
    answer = client.post(address, data, headers=headers)
    assert answer.status_code == 204, answer.context["form"].errors
    assert Result.objects.get().taken_at == typed


def late_sample(floor: Floor, *, verdict: str, rlu: str = "7") -> Result:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40))
    floor.checked(now=clock.now() - timedelta(minutes=35))
    address = reverse("atp:sample", args=[turnaround.pk, floor.point.pk])
    form = floor.client.get(address).context["form"]
    data = {name: form[name].value() for name in ("meter", "test_lot", "rinse_end")}
    typed = clock.now() - timedelta(minutes=12)
    headers = {
        "X-Kept-Person": str(floor.hand.pk),
        "X-Kept-Late": "yes",
        "X-Kept-Typed-At": typed.isoformat(),
        "X-Kept-Verdict": verdict,
    }
    answer = floor.client.post(address, {"key": "s1", "rlu": rlu, **data}, headers=headers)
    assert (answer.status_code, answer["X-Kept-Verdict"]) == (204, "clear")
    return Result.objects.get()


def test_a_sample_judged_otherwise_than_on_the_tablet_says_so(floor: Floor) -> None:
    result = late_sample(floor, verdict="action")
    page = words(floor.client.get(reverse("atp:reading", args=[result.pk])))
    assert "it was provisionally action. By the limits in force it is clear." in page
    assert "typed without the network" in page
    assert Entry.objects.get(key="s1").values["arrived"]["provisional"] == "action"


@pytest.mark.parametrize("verdict", ["clear", "", "nonsense"])
def test_a_sample_judged_alike_says_nothing(floor: Floor, verdict: str) -> None:
    result = late_sample(floor, verdict=verdict)
    page = words(floor.client.get(reverse("atp:reading", args=[result.pk])))
    assert "Judged otherwise" not in page
    assert "provisional" not in Entry.objects.get(key="s1").values["arrived"]


def test_the_sample_page_carries_the_limits_that_judge(floor: Floor) -> None:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40))
    floor.checked(now=clock.now())
    answer = signed_in(floor.hand).get(reverse("atp:sample", args=[turnaround.pk, floor.point.pk]))
    meter, lot = answer.context["usual_meter"], answer.context["usual_lot"]
    limits = answer.context["form"].kit.judged[meter.pk, lot.atp_test_id]
    expected = f"&quot;{meter.pk}:{lot.pk}&quot;: [{limits.alert_rlu}, {limits.action_rlu}]"
    assert expected in answer.content.decode()


def test_the_worker_answers_for_every_page_and_names_its_files() -> None:
    answer = Client().get("/worker.js")
    assert answer["Service-Worker-Allowed"] == "/"
    text = answer.content.decode()
    assert text.startswith('const VERSION = "')
    assert '"/static/brewhygiene/outbox/forms.js"' in text


def test_the_app_says_what_it_is(floor: Floor) -> None:
    answer = Client().get("/app.webmanifest")
    assert answer["Content-Type"] == "application/manifest+json"
    assert answer.json()["start_url"] == "/"
    assert answer.json()["display"] == "standalone"


def test_icons_of_the_app_are_as_large_as_they_say(floor: Floor) -> None:
    """A tablet puts none on its home screen that is a drawing, or of another size."""
    icons = Client().get("/app.webmanifest").json()["icons"]
    drawn = {one["sizes"]: one["src"] for one in icons if one["type"] == "image/png"}
    page = Client().get("/sign-in/").content.decode()
    found = re.search(r'rel="apple-touch-icon" href="/static/([^"]+)"', page)
    assert found is not None
    drawn["180x180"] = f"/static/{found[1]}"
    assert set(drawn) == {"180x180", "192x192", "512x512"}
    for size, address in drawn.items():
        path = finders.find(address.removeprefix("/static/"))
        assert isinstance(path, str)
        with Image.open(path) as image:
            assert f"{image.width}x{image.height}" == size
            # Opaque to its corners, which the tablet rounds by itself.
            assert image.convert("RGBA").getpixel((0, 0)) == (11, 85, 99, 255)
