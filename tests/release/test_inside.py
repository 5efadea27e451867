"""What may still be in a vessel, or who: it is not empty, not released and not filled."""

import pytest

from brewhygiene.refusals import Refusal
from brewhygiene.release import actions as release_actions
from brewhygiene.release.queries import state_of
from brewhygiene.release.status import Code, Next
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.entry.actions import close_permit
from tests import clock
from tests.factories import PASSWORD, acting, make_beer
from tests.turnarounds.entry.test_actions import permitted
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db


@pytest.fixture
def floor() -> Floor:
    return Floor()


def stopped(floor: Floor, *, order: int) -> None:
    clean = floor.at_step(order)
    floor.running_step(clean, order, now=clock.now())
    turnaround_actions.stop_clean(
        by=acting(floor.hand, now=clock.now()), clean=clean, reason="Pump failed"
    )


def test_vessel_stopped_in_hot_caustic_says_so_and_is_never_empty(floor: Floor) -> None:
    stopped(floor, order=2)
    status = state_of(floor.vessel, now=clock.now()).status
    assert status.code == Code.HELD
    agent = floor.version.steps.get(order=2).agent
    assert status.detail == f"The clean was stopped. Inside: {agent}, hot"
    assert (status.next, status.next_text) == (Next.CLEAN, "Rinse and clean")


def test_vessel_stopped_before_any_agent_is_empty(floor: Floor) -> None:
    stopped(floor, order=1)
    status = state_of(floor.vessel, now=clock.now()).status
    assert (status.code, status.detail) == (Code.EMPTY, "The clean was stopped")


def test_vessel_that_somebody_may_be_in_is_held_until_the_permit_is_closed(floor: Floor) -> None:
    permit = permitted(floor, floor.emptied(now=clock.now()))
    state = state_of(floor.vessel, now=clock.now())
    assert (state.status.code, state.status.next) == (Code.HELD, Next.PERMIT)
    assert state.status.detail == "Somebody may be inside: Ilja Test"
    assert state.status.since == permit.opened_at
    close_permit(
        by=acting(floor.hand), permit=permit, everyone_out=True, nothing_left=True, note="Done"
    )
    assert state_of(floor.vessel, now=clock.now()).status.code == Code.EMPTY


def test_nothing_is_filled_while_somebody_may_be_inside(floor: Floor) -> None:
    turnaround = floor.emptied(now=clock.now())
    permitted(floor, turnaround)
    with pytest.raises(Refusal) as refused:
        release_actions.record_fill_without_release(
            by=acting(floor.brewer),
            turnaround=turnaround,
            beer=make_beer(),
            batch="B 7",
            volume_hl=1,
            filled_at=clock.now(),
            reason="The pump was on",
            password=PASSWORD,
        )
    assert refused.value.code == "entered"


def test_sanitiser_that_a_finished_clean_may_leave_is_no_residue(floor: Floor) -> None:
    turnaround = floor.cleaned(now=clock.now())
    again = floor.started(turnaround, now=clock.now())
    turnaround_actions.stop_clean(by=acting(floor.hand, now=clock.now()), clean=again, reason="Why")
    status = state_of(floor.vessel, now=clock.now()).status
    assert (status.code, status.detail) == (Code.EMPTY, "The clean was stopped")


def test_sanitiser_of_a_stopped_clean_is_inside(floor: Floor) -> None:
    floor.version = floor.quick
    stopped(floor, order=2)
    status = state_of(floor.vessel, now=clock.now()).status
    assert status.detail == f"The clean was stopped. Inside: {floor.quick.steps.get(order=2).agent}"
