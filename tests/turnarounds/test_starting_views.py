"""The screens before a clean: emptying and the choice of a regime."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from brewhygiene.cellar.models import Emptying, HoldClock
from brewhygiene.turnarounds.models import Clean, Turnaround
from tests import clock
from tests.factories import make_beer, make_version, make_vessel
from tests.turnarounds.floor import Floor, caustic_version, counted, errors, signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor() -> Floor:
    return Floor()


def url(name: str, *args: Any) -> str:
    return reverse(f"turnarounds:{name}", args=args)


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
        ("2098-01-01T10:00", "Enter a time that is not in the future."),
        ("2001-01-01T10:00", "Enter a time within the last 60 days."),
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
    assert "Record emptying</button>" not in page
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
    assert "Last beer Nut Brown (invented): nuts" in text
    assert "Nuts: use an allergen test." in text


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
        "weaker_reason": [f"{weak.regime.name} is weaker than required. Enter a reason."]
    }
    page = answer.content.decode()
    # The regime that was chosen stays open, its message inside.
    assert f'id="r{weak.pk}_weaker_reason"' in page
    assert page.count('<details class="disclosure sheet other" open>') == 1
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
    assert "with no acid step. Ask the head brewer." in page.content.decode()


def test_a_kind_of_vessel_without_a_regime_says_so(floor: Floor) -> None:
    keg = make_vessel(kind="keg_line", name="Line 3")
    turnaround = floor.emptied(now=clock.now(), vessel=keg)
    page = floor.client.get(url("regime", turnaround.pk)).content.decode()
    assert "There is no regime for a keg line yet." in page
    assert "The head brewer can add one" in page
    to_set_up = signed_in(floor.brewer).get(url("regime", turnaround.pk)).content.decode()
    assert f'href="{reverse("regimes:regimes")}"' in to_set_up


def test_a_regime_that_is_not_there_any_more_is_said(floor: Floor) -> None:
    turnaround = floor.emptied(now=clock.now())
    answer = floor.client.post(url("regime", turnaround.pk), {"version": 9999})
    assert answer.status_code == 422
    assert errors(answer) == {"version": ["This regime no longer exists. Choose another."]}
    assert "This regime no longer exists." in answer.content.decode()


def test_a_clean_started_twice_by_one_form_is_one(floor: Floor) -> None:
    turnaround = floor.emptied(now=clock.now())
    form = {"key": "tap", "version": floor.version.pk}
    codes = [floor.client.post(url("regime", turnaround.pk), form).status_code for _ in range(2)]
    assert (codes, Clean.objects.count()) == ([302, 302], 1)


@pytest.mark.parametrize(
    ("hours_ago", "words"), [(2, "clean due in 3 h"), (6.1, "1 h 5 min overdue")]
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
    assert "Next beer Clear Head (invented) needs a strong clean" in page.content.decode()


def test_the_next_beer_changed_after_a_clean_goes_back_to_the_turnaround(floor: Floor) -> None:
    clean = floor.at_step(1)
    answer = floor.client.post(url("next_beer", clean.turnaround_id), {"beer": ""})
    assert answer.headers["Location"] == reverse("board:turnaround", args=[clean.turnaround_id])


def test_while_a_clean_runs_the_choice_leads_to_it(floor: Floor) -> None:
    clean = floor.at_step(1)
    answer = floor.client.get(url("regime", clean.turnaround_id))
    assert answer.headers["Location"] == url("clean", clean.pk)


def test_a_choice_of_one_regime_costs_as_much_as_one_of_four(
    floor: Floor, django_assert_num_queries: Any
) -> None:
    at = url("regime", floor.emptied(now=clock.now()).pk)
    with django_assert_num_queries(16):
        floor.client.get(at)
    for _ in range(3):
        caustic_version()
    with django_assert_num_queries(16):
        floor.client.get(at)
