"""The turnaround's own screens: empty, choose a regime, follow the clean, stop and finish it."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.turnarounds.models import Clean, Turnaround, VesselOpening
from tests import clock
from tests.factories import make_user, make_version, make_vessel
from tests.turnarounds.floor import Floor, counted, errors, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor() -> Floor:
    return Floor()


def url(name: str, *args: Any) -> str:
    return reverse(f"turnarounds:{name}", args=args)


# Who may see and do what


ENTRY = ("empty", "next_beer", "regime", "opened", "stop", "finish", "end_step", "leave_out")
LOOK = ("clean", "step")


def addresses(floor: Floor) -> dict[str, str]:
    record = floor.running_caustic()
    clean = record.clean
    turnaround = clean.turnaround
    return {
        "empty": url("empty", make_vessel().pk),
        "next_beer": url("next_beer", turnaround.pk),
        "regime": url("regime", turnaround.pk),
        "opened": url("opened", turnaround.pk),
        "clean": url("clean", clean.pk),
        "stop": url("stop", clean.pk),
        "finish": url("finish", clean.pk),
        "step": url("step", clean.pk, record.step_id),
        "end_step": url("end_step", clean.pk, record.step_id),
        "leave_out": url("leave_out", clean.pk, record.step_id),
    }


def test_the_cellar_sees_every_screen(floor: Floor) -> None:
    answers = {name: floor.client.get(at) for name, at in addresses(floor).items()}
    running = answers.pop("regime")
    assert {name: answer.status_code for name, answer in answers.items()} == dict.fromkeys(
        answers, 200
    )
    # While a clean runs there is no regime to choose.
    assert running.status_code == 302
    for name, answer in answers.items():
        assert answer.content.count(b"<h1") == 1, name


def test_the_owner_looks_at_cleans_and_enters_nothing(floor: Floor) -> None:
    client = signed_in(floor.owner)
    codes = {name: client.get(at).status_code for name, at in addresses(floor).items()}
    assert codes == dict.fromkeys(ENTRY, 403) | dict.fromkeys(LOOK, 200)


def test_the_owner_is_offered_no_button_on_a_clean(floor: Floor) -> None:
    at = addresses(floor)
    client = signed_in(floor.owner)
    for name in LOOK:
        page = client.get(at[name]).content.decode()
        # The one form of the page that sends anything is the sign-out.
        assert page.count('method="post"') == 1, name
        assert "/end/" not in page
        assert "/stop/" not in page


def test_nothing_that_the_owner_sends_is_written(floor: Floor) -> None:
    record = floor.running_caustic()
    step = (record.clean_id, record.step_id)
    client = signed_in(floor.owner)
    before = counted(Turnaround, Clean)
    posts = {
        "empty": url("empty", make_vessel().pk),
        "next_beer": url("next_beer", record.clean.turnaround_id),
        "regime": url("regime", record.clean.turnaround_id),
        "opened": url("opened", record.clean.turnaround_id),
        "stop": url("stop", record.clean_id),
        "finish": url("finish", record.clean_id),
        "safety": url("safety", *step),
        "start_step": url("start_step", *step),
        "read": url("read", *step),
        "end_step": url("end_step", *step),
        "leave_out": url("leave_out", *step),
    }
    codes = {name: client.post(at, {"reason": "x"}).status_code for name, at in posts.items()}
    assert codes == dict.fromkeys(posts, 403)
    assert counted(Turnaround, Clean) == before


def test_somebody_without_a_role_enters_nothing(floor: Floor) -> None:
    client = signed_in(make_user())
    codes = {name: client.get(at).status_code for name, at in addresses(floor).items()}
    assert {name: codes[name] for name in ENTRY} == dict.fromkeys(ENTRY, 403)


def test_nobody_sees_a_screen_without_signing_in(floor: Floor) -> None:
    client = signed_in(None)
    for at in addresses(floor).values():
        assert client.get(at).headers["Location"] == f"{reverse('people:sign_in')}?next={at}"


@pytest.mark.parametrize("name", ["clean", "stop", "finish"])
def test_a_clean_that_is_not_there_is_not_found(floor: Floor, name: str) -> None:
    assert floor.client.get(url(name, 9999)).status_code == 404


def test_a_step_of_another_regime_is_not_found(floor: Floor) -> None:
    clean = floor.at_step(1)
    other = make_version().steps.first()
    assert floor.client.get(url("step", clean.pk, other.pk)).status_code == 404


# The clean


def test_the_trail_leads_to_the_step_that_is_on(floor: Floor) -> None:
    clean = floor.at_step(2)
    page = floor.client.get(url("clean", clean.pk))
    assert [screen.state for screen in page.context["screens"]] == [
        "done", "next", "waiting", "waiting",
    ]  # fmt: skip
    assert page.content.decode().count("Start caustic") == 1


def test_a_clean_is_stopped_with_its_reason(floor: Floor) -> None:
    clean = floor.at_step(2)
    before = counted(Clean)
    refused = floor.client.post(url("stop", clean.pk), {"reason": " "})
    assert (refused.status_code, errors(refused)) == (422, {"reason": ["Enter a reason."]})
    assert counted(Clean) == before
    floor.client.post(url("stop", clean.pk), {"reason": "Pump seal gone"})
    clean.refresh_from_db()
    assert (clean.running, clean.stop_reason) == (False, "Pump seal gone")
    page = floor.client.get(url("clean", clean.pk)).content.decode()
    assert "Pump seal gone" in page
    assert "Stop clean" not in page


def test_a_clean_that_is_not_done_is_not_finished(floor: Floor) -> None:
    clean = floor.at_step(2)
    page = floor.client.get(url("finish", clean.pk)).content.decode()
    assert "2. caustic is not done." in page
    assert ">Finish clean</button>" not in page
    answer = floor.client.post(url("finish", clean.pk))
    assert errors(answer) == {"__all__": ["Not finished yet: caustic is not done."]}
    clean.refresh_from_db()
    assert clean.running is True


def test_a_finished_clean_leads_to_its_samples(floor: Floor) -> None:
    clean = floor.at_step(5, minutes_ago=200)
    answer = floor.client.post(url("finish", clean.pk))
    assert answer.headers["Location"] == reverse("atp:samples", args=[clean.turnaround_id])
    again = floor.client.get(url("finish", clean.pk)).content.decode()
    assert "Jonas Feld finished this clean" in again


# Opening


def test_an_opened_vessel_is_recorded_with_its_reason(floor: Floor) -> None:
    turnaround = floor.cleaned()
    refused = floor.client.post(url("opened", turnaround.pk), {"reason": ""})
    assert (refused.status_code, errors(refused)) == (422, {"reason": ["Enter a reason."]})
    assert VesselOpening.objects.count() == 0
    answer = floor.client.post(url("opened", turnaround.pk), {"reason": "Gasket changed"})
    assert answer.headers["Location"] == reverse("board:turnaround", args=[turnaround.pk])
    assert VesselOpening.objects.get().reason == "Gasket changed"


def test_opening_a_vessel_that_is_not_clean_changes_nothing(floor: Floor) -> None:
    turnaround = floor.emptied(now=clock.now())
    answer = floor.client.post(url("opened", turnaround.pk), {"reason": "To look"})
    why_not = "has not been cleaned since it was emptied, so there is no opening to record."
    assert errors(answer) == {"__all__": [f"{floor.vessel.name} {why_not}"]}
    assert VesselOpening.objects.count() == 0


# Queries


def test_a_clean_at_its_end_costs_as_much_as_one_at_its_start(
    floor: Floor, django_assert_num_queries: Any
) -> None:
    clean = floor.at_step(2, minutes_ago=200)
    with django_assert_num_queries(14):
        floor.client.get(url("clean", clean.pk))
    for order in (2, 3, 4):
        floor.run_step(clean, order, now=clock.now() - timedelta(minutes=150))
    with django_assert_num_queries(14):
        floor.client.get(url("clean", clean.pk))
