"""A release whose meter fails its next control check: it falls, and the points are read again."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from brewhygiene.atp.meters.actions import record_control_check
from brewhygiene.atp.meters.queries import filled_on_doubt
from brewhygiene.atp.models.meters import ControlCheck
from brewhygiene.board.next_step import next_step
from brewhygiene.refusals import Refusal
from brewhygiene.release.queries import load_dossier, state_of
from brewhygiene.release.status import Code, Status
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW, Cellar, acting, make_limits, make_meter
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


def minutes(number: float) -> datetime:
    return NOW + timedelta(minutes=number)


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def check_failed(cellar: Cellar, *, at: datetime, **values: Any) -> ControlCheck:
    return record_control_check(
        by=acting(cellar.hand, now=at),
        **{"meter": cellar.meter, "blank_rlu": 999, "positive_rlu": 200, **values},
    )


def status(cellar: Cellar, at: datetime) -> Status:
    return state_of(cellar.vessel, now=at).status


def released(cellar: Cellar) -> Turnaround:
    cellar.checked(now=NOW)
    return cellar.released()


def test_release_falls_and_nothing_is_filled_until_it_is_read_again(cellar: Cellar) -> None:
    turnaround = released(cellar)
    assert status(cellar, minutes(41)).code == Code.RELEASED
    failed = check_failed(cellar, at=minutes(45))
    said = status(cellar, minutes(46))
    assert (said.code, said.since) == (Code.HELD, failed.checked_at)
    assert said.detail == (
        f"{cellar.meter.name} failed its control check after the release: "
        f"{cellar.point.name} in doubt"
    )
    with pytest.raises(Refusal) as refused:
        cellar.filled(turnaround)
    assert refused.value.code == "not_released"
    assert "failed its control check" in refused.value.message


def test_fresh_reading_under_a_passed_check_asks_for_a_new_decision(cellar: Cellar) -> None:
    turnaround = released(cellar)
    check_failed(cellar, at=minutes(45))
    cellar.checked(now=minutes(46))
    cellar.sampled(turnaround, now=minutes(47))
    assert status(cellar, minutes(48)).code == Code.TO_DECIDE
    cellar.decided(turnaround, now=minutes(49))
    assert status(cellar, minutes(50)).code == Code.RELEASED
    cellar.filled(turnaround, now=minutes(51))


def test_second_meter_that_passed_does_as_well(cellar: Cellar) -> None:
    turnaround = released(cellar)
    check_failed(cellar, at=minutes(45))
    second = make_meter(name="Second")
    make_limits(by=cellar.brewer, meter=second, atp_test=cellar.atp_test)
    cellar.checked(now=minutes(46), meter=second)
    cellar.sampled(turnaround, now=minutes(47), meter=second)
    assert status(cellar, minutes(48)).code == Code.TO_DECIDE


def test_other_meter_that_fails_recalls_nothing(cellar: Cellar) -> None:
    released(cellar)
    check_failed(cellar, at=minutes(45), meter=make_meter(name="Second"))
    assert status(cellar, minutes(46)).code == Code.RELEASED


def test_failure_after_a_passed_check_recalls_nothing_of_another_day(cellar: Cellar) -> None:
    """The check that passed the next morning closed what was read the day before."""
    released(cellar)
    cellar.checked(now=NOW + timedelta(days=1))
    check_failed(cellar, at=NOW + timedelta(days=1, hours=1))
    facts = state_of(cellar.vessel, now=minutes(50)).facts.turnaround
    assert facts is not None
    assert facts.results[0].in_doubt_since is None


def test_next_thing_is_the_sample_itself(cellar: Cellar) -> None:
    turnaround = released(cellar)
    check_failed(cellar, at=minutes(45))
    state = state_of(cellar.vessel, now=minutes(46))
    found = next_step(state, may=lambda _: True, now=minutes(46))
    assert found.text == f"Sample {cellar.point.name} again"
    assert found.url == f"/turnarounds/{turnaround.pk}/samples/{cellar.point.pk}/"


def test_check_page_names_what_is_in_doubt_and_what_was_filled_on_it(cellar: Cellar) -> None:
    turnaround = released(cellar)
    fill = cellar.filled(turnaround)
    failed = check_failed(cellar, at=minutes(55))
    page = signed_in(cellar.hand).get(f"/meters/{cellar.meter.pk}/check/{failed.pk}/")
    html = page.content.decode()
    assert "Filled on such readings" in html
    assert fill.batch in html
    assert "Readings now unjudged" not in html
    gate = load_dossier(turnaround, now=minutes(56))
    assert gate.without_control(gate.results[0])


def test_point_that_a_second_meter_read_again_leaves_the_filling_in_no_doubt(
    cellar: Cellar,
) -> None:
    cellar.checked(now=NOW)
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround, now=minutes(30))
    second = make_meter(name="Second")
    make_limits(by=cellar.brewer, meter=second, atp_test=cellar.atp_test)
    cellar.checked(now=minutes(31), meter=second)
    cellar.sampled(turnaround, now=minutes(32), meter=second)
    cellar.decided(turnaround, now=minutes(40))
    cellar.filled(turnaround)
    assert filled_on_doubt(check_failed(cellar, at=minutes(55))) == []
    # Unless that meter fails as well.
    assert filled_on_doubt(check_failed(cellar, at=minutes(56), meter=second)) == [turnaround]


def test_beer_that_has_left_is_no_longer_listed(cellar: Cellar) -> None:
    turnaround = released(cellar)
    cellar.filled(turnaround)
    cellar.emptied(now=minutes(58), beer=None)
    failed = check_failed(cellar, at=minutes(59))
    html = signed_in(cellar.hand).get(f"/meters/{cellar.meter.pk}/check/{failed.pk}/")
    assert "Filled on such readings" not in html.content.decode()
