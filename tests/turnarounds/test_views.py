"""The turnaround's own screens: empty, choose a regime, follow the clean, stop and finish it."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from brewhygiene.cellar.models import Emptying, HoldClock
from brewhygiene.turnarounds.models import Clean, Turnaround, VesselOpening
from tests import clock
from tests.factories import make_beer, make_user, make_version, make_vessel
from tests.turnarounds.floor import Floor, caustic_version, counted, errors, signed_in

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
        # The one form of the page is the sign-out.
        assert page.count("<form") == 1, name
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


# Emptying


def test_what_was_in_it_is_shown_where_it_is_on_record_and_not_asked(floor: Floor) -> None:
    released = floor.released(now=clock.now() - timedelta(days=9))
    fill = floor.filled(released, now=clock.now() - timedelta(days=9) + timedelta(minutes=50))
    page = floor.client.get(url("empty", floor.vessel.pk))
    assert list(page.context["form"].fields) == [
        "key", "client_time", "next_beer", "co2_left", "emptied_at", "note",
    ]  # fmt: skip
    assert f"<strong>{floor.pale.name}</strong>, batch {fill.batch}" in page.content.decode()


def test_a_vessel_is_emptied_with_two_taps(floor: Floor) -> None:
    page = floor.client.get(url("empty", floor.vessel.pk))
    form = page.context["form"]
    before = clock.now()
    answer = floor.client.post(
        url("empty", floor.vessel.pk),
        {"key": form["key"].value(), "co2_left": form["co2_left"].value(), "beer": floor.pale.pk},
    )
    turnaround = Turnaround.objects.get()
    assert answer.headers["Location"] == reverse("board:turnaround", args=[turnaround.pk])
    assert turnaround.emptying.beer == floor.pale
    assert turnaround.emptying.co2_left is True
    assert before <= turnaround.opened_at <= clock.now()


def test_a_vessel_emptied_earlier_is_recorded_so(floor: Floor) -> None:
    earlier = clock.local() - timedelta(hours=3)
    floor.client.post(
        url("empty", floor.vessel.pk),
        {"co2_left": "no", "emptied_at": f"{earlier:%Y-%m-%dT%H:%M}", "note": "By the night shift"},
    )
    emptying = Emptying.objects.get()
    assert emptying.emptied_at == earlier.replace(second=0, microsecond=0)
    assert (emptying.beer, emptying.co2_left, emptying.note) == (None, False, "By the night shift")


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("2098-01-01T10:00", "That is in the future. Check the date and time."),
        ("2001-01-01T10:00", "That is more than 60 days ago. Check the date."),
        ("yesterday", "Enter a date and a time, e.g. 2026-03-14 06:30."),
    ],
)
def test_a_time_that_cannot_be_is_said_beside_it_and_the_note_is_kept(
    floor: Floor, typed: str, message: str
) -> None:
    before = counted(Turnaround, Emptying)
    answer = floor.client.post(
        url("empty", floor.vessel.pk),
        {"co2_left": "yes", "emptied_at": typed, "note": "Valve drips"},
    )
    assert answer.status_code == 422
    assert errors(answer) == {"emptied_at": [message]}
    page = answer.content.decode()
    assert f'value="{typed}"' in page
    assert "Valve drips</textarea>" in page
    assert counted(Turnaround, Emptying) == before


def test_a_vessel_emptied_twice_names_who_did_it_first(floor: Floor) -> None:
    floor.emptied(now=clock.now())
    before = counted(Turnaround, Emptying)
    page = floor.client.get(url("empty", floor.vessel.pk)).content.decode()
    assert "Jonas Feld recorded it" in page
    assert "is empty</button>" not in page
    answer = floor.client.post(url("empty", floor.vessel.pk), {"co2_left": "yes", "note": "Me too"})
    assert answer.status_code == 422
    assert errors(answer) == {
        "__all__": [f"{floor.vessel.name} is already empty: Jonas Feld recorded it."]
    }
    assert "Me too</textarea>" in answer.content.decode()
    assert counted(Turnaround, Emptying) == before


def test_the_same_emptying_sent_twice_is_one(floor: Floor) -> None:
    form = {"key": "one-tap", "co2_left": "yes"}
    first, second = (floor.client.post(url("empty", floor.vessel.pk), form) for _ in range(2))
    assert (first.status_code, second.status_code) == (302, 302)
    assert first.headers["Location"] == second.headers["Location"]
    assert Turnaround.objects.count() == 1


def test_a_vessel_may_be_emptied_in_the_minute_in_which_it_was_filled(floor: Floor) -> None:
    then = (clock.now() - timedelta(days=2)).replace(second=40)
    floor.filled(floor.released(now=then), now=then + timedelta(minutes=50))
    typed = timezone.localtime(then + timedelta(minutes=50))
    answer = floor.client.post(
        url("empty", floor.vessel.pk), {"co2_left": "yes", "emptied_at": f"{typed:%Y-%m-%dT%H:%M}"}
    )
    assert answer.status_code == 302
    assert Emptying.objects.latest("pk").emptied_at == then + timedelta(minutes=50)


# Choosing a regime


def test_the_proposal_is_accepted_with_one_tap(floor: Floor) -> None:
    turnaround = floor.emptied(now=clock.now(), beer=make_beer(sour_or_mixed=True))
    floor.vessel.default_regime = floor.version.regime
    floor.vessel.save()
    page = floor.client.get(url("regime", turnaround.pk))
    form = page.context["proposed_form"]
    assert page.context["proposal"].version == floor.version
    data = {name: form[name].value() for name in ("key", "version")}
    answer = floor.client.post(url("regime", turnaround.pk), data)
    clean = Clean.objects.get()
    first = clean.version.steps.order_by("order").first()
    assert answer.headers["Location"] == url("step", clean.pk, first.pk)
    assert (clean.version, clean.weaker_reason) == (floor.version, "")


def test_the_proposal_says_why_and_what_to_mind(floor: Floor) -> None:
    nuts = make_beer(name="Nut Brown (invented)", allergen="nuts", fruit_or_heavy_hops=True)
    page = floor.client.get(url("regime", floor.emptied(now=clock.now(), beer=nuts).pk))
    text = page.content.decode()
    assert "Nut Brown (invented) was in it: nuts" in text
    assert "Nuts: use an allergen test of its own" in text


def test_other_regimes_say_what_they_lack(floor: Floor) -> None:
    acid_due = make_vessel(acid_every_n=1)
    turnaround = floor.emptied(now=clock.now(), vessel=acid_due)
    make_version(name="For hoses", vessel_kinds=["hose_set"])
    others = floor.client.get(url("regime", turnaround.pk)).context["others"]
    assert {other.version: other.lacks for other, _ in others} == {floor.quick: ["no acid step"]}


def test_a_weaker_regime_asks_for_its_reason_beside_it_and_keeps_what_was_typed(
    floor: Floor,
) -> None:
    turnaround = floor.emptied(now=clock.now(), beer=make_beer(sour_or_mixed=True))
    weak = make_version(level=1)
    before = counted(Clean)
    answer = floor.client.post(url("regime", turnaround.pk), {"version": weak.pk})
    assert answer.status_code == 422
    assert errors(answer) == {
        "weaker_reason": [
            f"{weak.regime.name} is weaker than what is asked for. Say why it will do."
        ]
    }
    page = answer.content.decode()
    # The regime that was chosen stays open, its message inside.
    assert f'id="r{weak.pk}_weaker_reason"' in page
    assert page.count('<details class="more sheet other" open>') == 1
    assert counted(Clean) == before
    floor.client.post(
        url("regime", turnaround.pk), {"version": weak.pk, "weaker_reason": "Head brewer said so"}
    )
    assert Clean.objects.get().weaker_reason == "Head brewer said so"


def test_what_no_regime_gives_is_said_and_needs_a_reason(floor: Floor) -> None:
    vessel = make_vessel(acid_every_n=1)
    page = floor.client.get(url("regime", floor.emptied(now=clock.now(), vessel=vessel).pk))
    assert page.context["proposal"].unmet == ["no acid step"]
    assert page.context["proposed_form"].fields["weaker_reason"].required is True
    assert "it has no acid step. Ask the head brewer." in page.content.decode()


def test_a_kind_of_vessel_without_a_regime_says_so(floor: Floor) -> None:
    keg = make_vessel(kind="keg_line", name="Line 3")
    turnaround = floor.emptied(now=clock.now(), vessel=keg)
    page = floor.client.get(url("regime", turnaround.pk)).content.decode()
    assert "There is no regime for a keg line yet." in page
    assert "The head brewer can make one" in page
    to_set_up = signed_in(floor.brewer).get(url("regime", turnaround.pk)).content.decode()
    assert f'href="{reverse("regimes:regimes")}"' in to_set_up


def test_a_regime_that_is_not_there_any_more_is_said(floor: Floor) -> None:
    turnaround = floor.emptied(now=clock.now())
    answer = floor.client.post(url("regime", turnaround.pk), {"version": 9999})
    assert answer.status_code == 422
    assert errors(answer) == {"version": ["That regime is not there any more. Choose again."]}
    assert "That regime is not there any more." in answer.content.decode()


def test_a_clean_started_twice_by_one_form_is_one(floor: Floor) -> None:
    turnaround = floor.emptied(now=clock.now())
    form = {"key": "tap", "version": floor.version.pk}
    codes = [floor.client.post(url("regime", turnaround.pk), form).status_code for _ in range(2)]
    assert (codes, Clean.objects.count()) == ([302, 302], 1)


@pytest.mark.parametrize(
    ("hours_ago", "words"), [(2, "its clean is due in 3 h"), (6.1, "1 h 5 min late")]
)
def test_the_dirty_hold_runs_on_the_screen(floor: Floor, hours_ago: float, words: str) -> None:
    HoldClock.objects.update_or_create(vessel_kind="fermenter", defaults={"dirty_hold_h": 5})
    # A few seconds early, so that the minutes shown do not depend on how long the test takes.
    emptied = clock.now() - timedelta(hours=hours_ago) + timedelta(seconds=20)
    page = floor.client.get(url("regime", floor.emptied(now=emptied).pk)).content.decode()
    assert words in " ".join(page.replace("<strong>", "").split())


def test_the_next_beer_is_changed_and_the_proposal_follows(floor: Floor) -> None:
    turnaround = floor.emptied(now=clock.now())
    strict = make_beer(name="Clear Head (invented)", strict_before=True)
    answer = floor.client.post(url("next_beer", turnaround.pk), {"beer": strict.pk})
    assert answer.headers["Location"] == url("regime", turnaround.pk)
    page = floor.client.get(url("regime", turnaround.pk))
    assert page.context["proposal"].level == 3
    assert "Clear Head (invented) comes next and asks for it" in page.content.decode()


def test_the_next_beer_changed_after_a_clean_goes_back_to_the_turnaround(floor: Floor) -> None:
    clean = floor.at_step(1)
    answer = floor.client.post(url("next_beer", clean.turnaround_id), {"beer": ""})
    assert answer.headers["Location"] == reverse("board:turnaround", args=[clean.turnaround_id])


def test_while_a_clean_runs_the_choice_leads_to_it(floor: Floor) -> None:
    clean = floor.at_step(1)
    answer = floor.client.get(url("regime", clean.turnaround_id))
    assert answer.headers["Location"] == url("clean", clean.pk)


# The clean


def test_the_trail_leads_to_the_step_that_is_on(floor: Floor) -> None:
    clean = floor.at_step(2)
    page = floor.client.get(url("clean", clean.pk))
    assert [screen.state for screen in page.context["screens"]] == [
        "done", "next", "waiting", "waiting",
    ]  # fmt: skip
    assert page.content.decode().count("Next: caustic") == 1


def test_a_clean_is_stopped_with_its_reason(floor: Floor) -> None:
    clean = floor.at_step(2)
    before = counted(Clean)
    refused = floor.client.post(url("stop", clean.pk), {"reason": " "})
    assert (refused.status_code, errors(refused)) == (422, {"reason": ["Say why."]})
    assert counted(Clean) == before
    floor.client.post(url("stop", clean.pk), {"reason": "Pump seal gone"})
    clean.refresh_from_db()
    assert (clean.running, clean.stop_reason) == (False, "Pump seal gone")
    page = floor.client.get(url("clean", clean.pk)).content.decode()
    assert "Pump seal gone" in page
    assert "Stop the clean" not in page


def test_a_clean_that_is_not_done_is_not_finished(floor: Floor) -> None:
    clean = floor.at_step(2)
    page = floor.client.get(url("finish", clean.pk)).content.decode()
    assert "2. caustic is not done." in page
    assert ">Finish the clean</button>" not in page
    answer = floor.client.post(url("finish", clean.pk))
    assert errors(answer) == {"__all__": ["Not finished yet: caustic is not done."]}
    clean.refresh_from_db()
    assert clean.running is True


def test_a_finished_clean_leads_to_its_samples(floor: Floor) -> None:
    clean = floor.at_step(5, minutes_ago=200)
    answer = floor.client.post(url("finish", clean.pk))
    assert answer.headers["Location"] == reverse("atp:samples", args=[clean.turnaround_id])
    again = floor.client.get(url("finish", clean.pk)).content.decode()
    assert "Jonas Feld finished it" in again


# Opening


def test_an_opened_vessel_is_recorded_with_its_reason(floor: Floor) -> None:
    turnaround = floor.cleaned()
    refused = floor.client.post(url("opened", turnaround.pk), {"reason": ""})
    assert (refused.status_code, errors(refused)) == (422, {"reason": ["Say why."]})
    assert VesselOpening.objects.count() == 0
    answer = floor.client.post(url("opened", turnaround.pk), {"reason": "Gasket changed"})
    assert answer.headers["Location"] == reverse("board:turnaround", args=[turnaround.pk])
    assert VesselOpening.objects.get().reason == "Gasket changed"


def test_opening_a_vessel_that_is_not_clean_changes_nothing(floor: Floor) -> None:
    turnaround = floor.emptied(now=clock.now())
    answer = floor.client.post(url("opened", turnaround.pk), {"reason": "To look"})
    why_not = "has not been cleaned since it was emptied, so opening it changes nothing."
    assert errors(answer) == {"__all__": [f"{floor.vessel.name} {why_not}"]}
    assert VesselOpening.objects.count() == 0


# Queries


def test_a_choice_of_one_regime_costs_as_much_as_one_of_four(
    floor: Floor, django_assert_num_queries: Any
) -> None:
    at = url("regime", floor.emptied(now=clock.now()).pk)
    with django_assert_num_queries(15):
        floor.client.get(at)
    for _ in range(3):
        caustic_version()
    with django_assert_num_queries(15):
        floor.client.get(at)


def test_a_clean_at_its_end_costs_as_much_as_one_at_its_start(
    floor: Floor, django_assert_num_queries: Any
) -> None:
    clean = floor.at_step(2, minutes_ago=200)
    with django_assert_num_queries(11):
        floor.client.get(url("clean", clean.pk))
    for order in (2, 3, 4):
        floor.run_step(clean, order, now=clock.now() - timedelta(minutes=150))
    with django_assert_num_queries(11):
        floor.client.get(url("clean", clean.pk))
