"""What arrives though the clean was finished, decided or filled meanwhile: both sides, two ways."""

from datetime import timedelta
from typing import Any
from urllib.parse import unquote

import pytest
from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.delivery.models import Arrival
from brewhygiene.release.actions import record_fill_without_release
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.models import Clean, StepReading, StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from tests import clock
from tests.factories import PASSWORD, acting, make_owner
from tests.turnarounds.floor import Floor, signed_in
from tests.turnarounds.steps.sending import url, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor() -> Floor:
    return Floor(time_zone="Europe/Berlin")


@pytest.fixture
def caustic(floor: Floor) -> StepRecord:
    """The caustic step of a clean that was finished half an hour ago."""
    clean = floor.at_step(4, minutes_ago=180)
    floor.run_step(clean, 4, now=clock.now() - timedelta(minutes=60))
    turnaround_actions.finish_clean(
        by=acting(floor.hand, now=clock.now() - timedelta(minutes=30)), clean=clean
    )
    return StepRecord.objects.get(clean=clean, step__order=2)


def deliver(
    floor: Floor, record: StepRecord, *, value: str = "75", minutes: float = 10, **headers: str
) -> HttpResponse:
    typed = record.started_at + timedelta(minutes=minutes)
    kept = {
        "X-Kept-Person": str(floor.hand.pk),
        "X-Kept-Late": "yes",
        "X-Kept-Typed-At": typed.isoformat(),
    }
    data = {
        "key": "k1",
        "record": record.pk,
        "quantity": "temperature_c",
        "by": "straight",
        "value": value,
        "stage": "return",
    }
    return floor.client.post(url("read", record), data, headers=kept | headers)


def reasons(answer: HttpResponse) -> str:
    """As the tablet shows them: the page need not show the form any more."""
    return unquote(answer["X-Kept-Reasons"])


def temperatures(record: StepRecord) -> list[float]:
    found = record.readings.filter(quantity="temperature_c").order_by("pk")
    return list(found.values_list("value", flat=True))


def held(floor: Floor, about: str, minutes: float, record: StepRecord) -> dict[str, Any]:
    typed = (record.started_at + timedelta(minutes=minutes)).isoformat()
    answer = floor.client.get(reverse("board:held"), {"about": about, "typed_at": typed})
    found: dict[str, Any] = answer.json()
    return found


LATE = {"X-Kept-After-End": "yes"}


def test_a_reading_of_a_finished_clean_is_refused_until_somebody_chooses(
    floor: Floor, caustic: StepRecord
) -> None:
    refused = deliver(floor, caustic)
    assert refused.status_code == 422
    assert "This clean is finished." in reasons(refused)
    assert temperatures(caustic) == [75]
    taken = deliver(floor, caustic, value="76", **LATE)
    assert (taken.status_code, taken["X-Kept-Outcome"]) == (204, "taken")
    assert temperatures(caustic) == [75, 76]
    late = StepReading.objects.get(value=76)
    assert late.taken_at == caustic.started_at + timedelta(minutes=10)
    assert Arrival.objects.get().after_end
    page = words(floor.client.get(url("step", caustic)))
    assert page.count("Arrived after the clean was finished") == 1


def test_both_sides_are_told_with_since_when(floor: Floor, caustic: StepRecord) -> None:
    clean = Clean.objects.get(pk=caustic.clean_id)
    assert clean.finished_at is not None
    assert caustic.ended_at is not None
    assert held(floor, url("read", caustic), 10, caustic) == {
        "facts": [
            {
                "words": f"{caustic.step} ended by {floor.hand}",
                "since": caustic.ended_at.isoformat(),
            },
            {
                "words": f"Clean finished by {floor.hand}",
                "since": clean.finished_at.isoformat(),
            },
        ],
        "may_be_late": True,
    }


@pytest.mark.parametrize(("minutes", "sound"), [(0, True), (30, True), (30.1, False), (-1, False)])
def test_only_what_was_read_while_its_step_ran_is_sound(
    floor: Floor, caustic: StepRecord, minutes: float, sound: bool
) -> None:
    assert caustic.ended_at == caustic.started_at + timedelta(minutes=30)
    assert held(floor, url("read", caustic), minutes, caustic)["may_be_late"] is sound
    # The tablet says it in whole minutes at its start: a minute before is another.
    answer = deliver(floor, caustic, minutes=minutes, **LATE)
    assert (answer.status_code == 204) is sound


def test_an_end_is_never_recorded_after_the_clean(floor: Floor, caustic: StepRecord) -> None:
    assert not held(floor, url("end_step", caustic), 10, caustic)["may_be_late"]
    typed = caustic.started_at + timedelta(minutes=10)
    answer = floor.client.post(
        url("end_step", caustic),
        {"key": "e1", "record": caustic.pk},
        headers={
            "X-Kept-Person": str(floor.hand.pk),
            "X-Kept-Late": "yes",
            "X-Kept-Typed-At": typed.isoformat(),
            **LATE,
        },
    )
    assert answer.status_code == 422
    assert "This clean is finished." in words(answer)


def test_what_is_sent_as_late_without_its_time_is_refused(
    floor: Floor, caustic: StepRecord
) -> None:
    answer = floor.client.post(
        url("read", caustic),
        {
            "key": "k1",
            "record": caustic.pk,
            "quantity": "temperature_c",
            "by": "straight",
            "value": "75",
            "stage": "return",
        },
        headers={
            "X-Kept-Person": str(floor.hand.pk),
            "X-Kept-Stated": str(floor.hand.pk),
            **LATE,
        },
    )
    assert answer.status_code == 422
    assert "after its step had ended" in reasons(answer)


def test_a_late_reading_outside_its_window_is_a_deviation_to_accept(
    floor: Floor, caustic: StepRecord
) -> None:
    assert deliver(floor, caustic, value="40", **LATE).status_code == 204
    low = Deviation.objects.get(kind="below", quantity="temperature_c")
    address = reverse("turnarounds:dispose", args=[low.pk])
    assert f'href="{address}"' in floor.client.get(url("step", caustic)).content.decode()
    options = floor.client.get(address).context["dispose_form"].options()
    assert [one[0] for one in options] == ["accept"]
    for disposition in ("repeat", "extend", "stop", "heat"):
        refused = floor.client.post(address, {"disposition": disposition, "reason": "Late"})
        assert refused.status_code == 422
    assert floor.client.post(address, {"disposition": "accept"}).status_code == 422
    accepted = floor.client.post(address, {"disposition": "accept", "reason": "The probe fell"})
    assert accepted.status_code == 302
    low.refresh_from_db()
    assert (low.disposition, low.reason) == ("accept", "The probe fell")


def test_once_filled_it_can_only_be_closed_with_a_reason(floor: Floor, caustic: StepRecord) -> None:
    turnaround = caustic.clean.turnaround
    now = clock.now() - timedelta(minutes=20)
    record_fill_without_release(
        by=acting(floor.brewer, now=now),
        turnaround=turnaround,
        beer=floor.pale,
        batch="B 77",
        volume_hl=25,
        filled_at=now,
        reason="Nobody asked",
        password=PASSWORD,
    )
    found = held(floor, url("read", caustic), 10, caustic)
    assert not found["may_be_late"]
    assert found["facts"][-1]["words"].startswith(f"{turnaround.vessel.name} filled with ")
    answer = deliver(floor, caustic, **LATE)
    assert answer.status_code == 422
    assert "has been filled since" in reasons(answer)


def test_once_decided_it_can_only_be_closed_with_a_reason(
    floor: Floor, caustic: StepRecord
) -> None:
    floor.decided(caustic.clean.turnaround, "hold", now=clock.now() - timedelta(minutes=20))
    found = held(floor, url("read", caustic), 10, caustic)
    assert not found["may_be_late"]
    assert found["facts"][-1]["words"] == f"Hold signed by {floor.brewer}"
    answer = deliver(floor, caustic, **LATE)
    assert answer.status_code == 422
    assert "The vessel was held or released since." in reasons(answer)
    assert temperatures(caustic) == [75]


def test_limits_approved_since_are_told(floor: Floor, caustic: StepRecord) -> None:
    address = reverse("atp:sample", args=[caustic.clean.turnaround_id, floor.point.pk])
    limits = LimitSet.objects.filter(approved_at__isnull=False).first()
    assert limits is not None
    assert limits.approved_at is not None
    before = (limits.approved_at - timedelta(minutes=1)).isoformat()
    after = limits.approved_at.isoformat()
    asked = [
        floor.client.get(reverse("board:held"), {"about": address, "typed_at": at}).json()
        for at in (before, after)
    ]
    assert [bool(one["facts"]) for one in asked] == [True, False]
    assert f"action above {limits.action_rlu} RLU" in asked[0]["facts"][0]["words"]


@pytest.mark.parametrize("about", ["", "/nowhere/", "/cleans/999999/steps/1/read/", "/board/", "x"])
def test_of_anything_else_nothing_is_told(floor: Floor, about: str) -> None:
    answer = floor.client.get(reverse("board:held"), {"about": about, "typed_at": "x"})
    assert answer.json() == {"facts": [], "may_be_late": False}


def test_what_is_held_is_for_who_works_in_the_cellar(floor: Floor, caustic: StepRecord) -> None:
    answer = signed_in(make_owner()).get(reverse("board:held"), {"about": url("read", caustic)})
    assert answer.status_code == 403
