"""The actions on beers and on the hold times."""

import pytest

from brewhygiene.cellar.beers import actions as beer_actions
from brewhygiene.cellar.hold_times import actions as clock_actions
from brewhygiene.cellar.hold_times.actions import DEFAULT_HOURS, Hours
from brewhygiene.cellar.models import Beer, HoldClock
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import PASSWORD, acting, make_cellar_hand, make_head_brewer

pytestmark = pytest.mark.django_db


@pytest.fixture
def brewer() -> User:
    return make_head_brewer()


def test_beer_is_added_with_its_demands(brewer: User) -> None:
    beer_actions.add_beer(
        by=acting(brewer),
        name="Skellavine Gose (invented)",
        sour_or_mixed=True,
        allergen="coriander",
    )
    beer = Beer.objects.get()
    assert (beer.sour_or_mixed, beer.diastatic, beer.allergen) == (True, False, "coriander")
    assert Entry.objects.get().values["allergen"] == "coriander"


def test_beer_of_that_name_is_there_once(brewer: User) -> None:
    beer_actions.add_beer(by=acting(brewer), name="Skellavine Gose")
    with pytest.raises(Refusal) as refused:
        beer_actions.add_beer(by=acting(brewer), name="SKELLAVINE GOSE")
    assert refused.value.field == "name"


def test_edited_beer_tells_what_changed(brewer: User) -> None:
    beer = beer_actions.add_beer(by=acting(brewer), name="Skellavine Gose")
    beer_actions.edit_beer(by=acting(brewer), beer=beer, name="Skellavine Gose", active=False)
    assert Entry.objects.last().values == {"before": {"active": True}, "after": {"active": False}}


def test_cellar_hand_changes_neither_beers_nor_clocks(brewer: User) -> None:
    beer = beer_actions.add_beer(by=acting(brewer), name="Skellavine Gose")
    by = acting(make_cellar_hand())
    attempts = [
        lambda: beer_actions.add_beer(by=by, name="Other"),
        lambda: beer_actions.edit_beer(by=by, beer=beer, name="Other"),
        lambda: clock_actions.set_hold_times(
            by=by, hold_times={"keg": DEFAULT_HOURS}, password=PASSWORD
        ),
    ]
    for attempt in attempts:
        with pytest.raises(NotAllowed):
            attempt()


def test_clocks_start_at_the_published_rule_of_thumb() -> None:
    """24 / 24 / 4 h: Craft Brewer's Guide to Best Practices vol. 2 (Master Brewers / ASBC)."""
    assert Hours(dirty_hold_h=24, clean_hold_h=24, sanitised_hold_h=4) == DEFAULT_HOURS
    clock = HoldClock(vessel_kind="keg")
    assert clock_actions.hours_of(clock) == DEFAULT_HOURS


def test_clocks_of_several_kinds_are_set_together(brewer: User) -> None:
    clock_actions.set_hold_times(
        by=acting(brewer),
        hold_times={"keg": Hours(12, 48, 4), "fermenter": Hours(24, 24, 6.5)},
        password=PASSWORD,
    )
    assert {c.vessel_kind: clock_actions.hours_of(c) for c in HoldClock.objects.all()} == {
        "keg": Hours(12, 48, 4),
        "fermenter": Hours(24, 24, 6.5),
    }
    assert Entry.objects.get().values["keg"] == {
        "before": {"dirty_hold_h": 24.0, "clean_hold_h": 24.0, "sanitised_hold_h": 4.0},
        "after": {"dirty_hold_h": 12, "clean_hold_h": 48, "sanitised_hold_h": 4},
    }


def test_one_clock_out_of_range_leaves_all_as_they_were(brewer: User) -> None:
    with pytest.raises(Refusal) as refused:
        clock_actions.set_hold_times(
            by=acting(brewer),
            hold_times={"keg": Hours(12, 48, 4), "fermenter": Hours(24, 24, 0)},
            password=PASSWORD,
        )
    assert refused.value.field == "fermenter-sanitised_hold_h"
    assert HoldClock.objects.count() == 0
    assert Entry.objects.count() == 0


@pytest.mark.parametrize("clocks", [{}, {"bucket": DEFAULT_HOURS}])
def test_no_clock_and_no_such_kind_are_refused(brewer: User, clocks: dict) -> None:
    with pytest.raises(Refusal):
        clock_actions.set_hold_times(by=acting(brewer), hold_times=clocks, password=PASSWORD)
