"""Names that were only stated: recorded as theirs, passing no check until confirmed by PIN."""

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from brewhygiene.brewery.models import Brewery
from brewhygiene.delivery.actions import confirm_name
from brewhygiene.delivery.models import Arrival
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.refusals import Refusal
from brewhygiene.release.gates import Answer, Gate, gates_of
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds.models import StepReading, StepRecord
from tests import clock
from tests.factories import acting, make_cellar_hand, make_owner
from tests.turnarounds.floor import Floor, signed_in
from tests.turnarounds.steps.sending import url, words

pytestmark = pytest.mark.django_db

PIN = "4711"


@pytest.fixture
def floor() -> Floor:
    return Floor(time_zone="Europe/Berlin")


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    return floor.running_caustic(minutes_ago=30)


@pytest.fixture
def other() -> User:
    return make_cellar_hand(full_name="Kofi Brandt", pin_hash=make_password(PIN))


def deliver(
    client: Client, record: StepRecord, *, sender: User, person: User | str, **more: Any
) -> HttpResponse:
    typed = {
        "key": "k1",
        "record": record.pk,
        "quantity": "temperature_c",
        "by": "straight",
        "value": "75",
        "stage": "return",
    }
    headers = {
        "X-Kept-Person": str(sender.pk),
        "X-Kept-Stated": str(person.pk if isinstance(person, User) else person),
        "X-Kept-Late": "yes",
        "X-Kept-Typed-At": (clock.now() - timedelta(minutes=5)).isoformat(),
    }
    address = more.pop("address", url("read", record))
    return client.post(address, typed | more, headers=headers)


def names(floor: Floor, record: StepRecord) -> Gate:
    found = gates_of(
        load_dossier(record.clean.turnaround, now=clock.now()),
        brewery=Brewery.current(),
        now=clock.now(),
        user=floor.brewer,
    )
    return next(gate for gate in found if gate.code == "names")


def test_a_stated_name_is_recorded_as_theirs_and_marked(
    floor: Floor, running: StepRecord, other: User
) -> None:
    answer = deliver(floor.client, running, sender=floor.hand, person=other)
    assert (answer.status_code, answer["X-Kept-Outcome"]) == (204, "taken")
    reading = StepReading.objects.get(quantity="temperature_c")
    assert reading.taken_by == other
    arrival = Arrival.objects.get()
    assert (arrival.person, arrival.delivered_by, arrival.unverified) == (other, floor.hand, True)
    said = Entry.objects.get(key="k1").values["arrived"]
    assert said["name"] == "name stated, not verified"
    assert said["delivered_by"] == floor.hand.pseudonym
    assert "Name stated, not verified" in words(floor.client.get(url("step", running)))


def test_the_check_of_names_stays_shut_until_its_person_confirms(
    floor: Floor, running: StepRecord, other: User
) -> None:
    assert names(floor, running).answer == Answer.YES
    deliver(floor.client, running, sender=floor.hand, person=other)
    shut = names(floor, running)
    assert (shut.answer, shut.waivable) == (Answer.NO, False)
    assert shut.evidence == (
        "Temperature 75 °C, record reading: name stated, not verified (Kofi Brandt)",
    )
    page = signed_in(other)
    address = reverse("delivery:confirm_names")
    shown = page.get(address)
    assert "Temperature 75 °C" in words(shown)
    arrival = Arrival.objects.get()
    answer = page.post(address, {"arrivals": [arrival.pk], "second_secret": PIN, "key": "c1"})
    assert answer.status_code == 302
    assert names(floor, running).answer == Answer.YES
    arrival.refresh_from_db()
    assert (arrival.confirmed_by, arrival.unverified) == (other, False)
    assert arrival.confirmed_at is not None
    assert "not verified" not in words(floor.client.get(url("step", running)))


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"second_secret": "0000"}, "This is not the PIN or password of Kofi Brandt."),
        ({"second_secret": ""}, "Enter your PIN or password."),
        ({"second_secret": PIN, "arrivals": []}, "Choose what you recorded."),
    ],
)
def test_without_the_pin_or_a_tick_nothing_is_confirmed(
    floor: Floor, running: StepRecord, other: User, fields: dict[str, Any], said: str
) -> None:
    deliver(floor.client, running, sender=floor.hand, person=other)
    arrival = Arrival.objects.get()
    answer = signed_in(other).post(
        reverse("delivery:confirm_names"), {"arrivals": [arrival.pk], "key": "c1"} | fields
    )
    assert answer.status_code == 422
    assert said in words(answer)
    arrival.refresh_from_db()
    assert arrival.unverified


def test_nobody_confirms_for_another(floor: Floor, running: StepRecord, other: User) -> None:
    floor.hand.pin_hash = make_password(PIN)
    floor.hand.save()
    deliver(floor.client, running, sender=floor.hand, person=other)
    arrival = Arrival.objects.get()
    assert "Temperature" not in words(floor.client.get(reverse("delivery:confirm_names")))
    with pytest.raises(Refusal, match="do not wait for you"):
        confirm_name(by=acting(floor.hand), arrivals=[arrival.pk], secret=PIN)
    with pytest.raises(Refusal, match="not your PIN"):
        confirm_name(by=acting(other), arrivals=[arrival.pk], secret="0000")
    with pytest.raises(Refusal, match="Enter your PIN"):
        confirm_name(by=acting(other), arrivals=[arrival.pk], secret="")
    other.password_set_by = "Mara Holm"
    other.save()
    with pytest.raises(Refusal, match="Mara Holm set your password"):
        confirm_name(by=acting(other), arrivals=[arrival.pk], secret=PIN)


def test_ones_own_name_is_only_stated_too_without_a_pin(floor: Floor, running: StepRecord) -> None:
    deliver(floor.client, running, sender=floor.hand, person=floor.hand)
    assert Arrival.objects.get().unverified


@pytest.mark.parametrize("who", ["", "999999", "x", "owner"])
def test_who_does_not_work_in_the_cellar_is_nobodys_name(
    floor: Floor, running: StepRecord, who: str
) -> None:
    person = make_owner() if who == "owner" else who
    answer = deliver(floor.client, running, sender=floor.hand, person=person)
    assert (answer.status_code, answer["X-Kept-Outcome"]) == (403, "nobody-of-that-name")
    assert "Nobody of that name works in the cellar now." in words(answer)
    assert not StepReading.objects.filter(quantity="temperature_c").exists()


def test_who_may_not_work_in_the_cellar_sends_nobodys(
    floor: Floor, running: StepRecord, other: User
) -> None:
    owner = make_owner()
    answer = deliver(signed_in(owner), running, sender=owner, person=other)
    assert answer.status_code == 403
    assert not StepReading.objects.filter(quantity="temperature_c").exists()


def test_no_other_form_is_taken_by_a_stated_name(floor: Floor, running: StepRecord) -> None:
    """A head brewer's name opens nothing but what the floor keeps."""
    count = Entry.objects.count()
    for name in ("state_step", "leave_out"):
        answer = deliver(
            floor.client,
            running,
            sender=floor.hand,
            person=floor.brewer,
            address=url(name, running),
            reason="Because",
        )
        assert (answer.status_code, answer["X-Kept-Outcome"]) == (403, "not-by-a-stated-name")
    answer = deliver(
        floor.client,
        running,
        sender=floor.hand,
        person=floor.brewer,
        address=reverse("people:add"),
    )
    assert answer.status_code == 403
    assert Entry.objects.count() == count


def test_a_stated_key_is_taken_once(floor: Floor, running: StepRecord, other: User) -> None:
    outcomes = [
        deliver(floor.client, running, sender=floor.hand, person=other)["X-Kept-Outcome"]
        for _ in range(3)
    ]
    assert outcomes == ["taken", "already", "already"]


def test_the_count_of_what_waits_is_on_every_page(
    floor: Floor, running: StepRecord, other: User
) -> None:
    deliver(floor.client, running, sender=floor.hand, person=other)
    assert "1 record in your name to confirm" in words(signed_in(other).get("/waiting/"))
    assert "in your name" not in words(floor.client.get("/waiting/"))
    here = reverse("delivery:waiting_here")
    assert "1 record in your name is not verified" in words(signed_in(other).get(here))


def test_the_page_of_names_has_who_works_in_the_cellar_and_no_secret(
    floor: Floor, other: User
) -> None:
    answer = floor.client.get(reverse("delivery:stated_name"))
    assert "Kofi Brandt" in words(answer)
    assert other.pin_hash not in answer.content.decode()
    assert make_owner().display_name not in words(answer)
