"""Which meter a sample screen offers: one that passed and has limits, and which one failed."""

from datetime import timedelta

import pytest
from django.test import Client

from brewhygiene.atp.limits import actions as limit_actions
from brewhygiene.atp.limits.queries import limits_by_pair, limits_in_force
from brewhygiene.atp.meters import actions as meter_actions
from brewhygiene.atp.models.meters import Meter
from brewhygiene.atp.readings.queries import Kit
from tests import clock
from tests.factories import NOW, PASSWORD, Cellar, acting, make_limits, make_meter, make_test_lot

pytestmark = pytest.mark.django_db
# Whose limits the factories make.
MOMENT = "in_sanitiser"
FAILED = "failed its control check today."


def check(cellar: Cellar, meter: Meter, *, positive: int = 200, minutes: int = 0) -> None:
    meter_actions.record_control_check(
        by=acting(cellar.hand, now=clock.now() + timedelta(minutes=minutes)),
        meter=meter,
        blank_rlu=0,
        positive_rlu=positive,
    )


def kit(cellar: Cellar) -> Kit:
    return Kit(user=cellar.hand, point=cellar.point, moment=MOMENT, day=clock.today())


def text(client: Client, cellar: Cellar) -> str:
    turnaround = cellar.vessel.turnarounds.get()
    page = client.get(f"/turnarounds/{turnaround.pk}/samples/{cellar.point.pk}/")
    assert page.status_code == 200
    return " ".join(page.content.decode().split())


@pytest.fixture
def cellar(client: Client) -> Cellar:
    cellar = Cellar()
    client.force_login(cellar.hand)
    turnaround = cellar.emptied(now=clock.now() - timedelta(hours=1))
    cellar.run(
        cellar.started(turnaround, now=clock.now() - timedelta(hours=1)),
        now=clock.now() - timedelta(hours=1),
    )
    return cellar


def test_passed_meter_with_limits_is_chosen_before_one_that_was_used_last(cellar: Cellar) -> None:
    other = make_meter(name="Meter without limits")
    check(cellar, other)
    check(cellar, cellar.meter)
    cellar.sampled(cellar.vessel.turnarounds.get(), meter=other, now=clock.now())
    assert kit(cellar).usual_meter == cellar.meter


def test_one_with_limits_is_chosen_where_nobody_used_any_and_of_two_none(cellar: Cellar) -> None:
    other = make_meter(name="Zeta")
    for meter in (other, cellar.meter):
        check(cellar, meter)
    assert kit(cellar).usual_meter == cellar.meter
    make_limits(by=cellar.brewer, meter=other, atp_test=cellar.atp_test)
    assert kit(cellar).usual_meter is None


def test_meter_that_failed_is_never_chosen_even_with_limits(cellar: Cellar) -> None:
    other = make_meter(name="Meter without limits")
    check(cellar, other)
    check(cellar, cellar.meter)
    check(cellar, cellar.meter, positive=1, minutes=1)
    assert kit(cellar).usual_meter == other
    assert kit(cellar).failed == [cellar.meter]


def test_screen_says_which_meter_failed_and_which_to_use(client: Client, cellar: Cellar) -> None:
    other = make_meter(name="Meter without limits")
    check(cellar, other)
    assert FAILED not in text(client, cellar)
    check(cellar, cellar.meter, positive=1)
    page = text(client, cellar)
    assert f"<strong>{cellar.meter.name} {FAILED}</strong>" in page
    assert "Use Meter without limits, or" in page
    check(cellar, cellar.meter, minutes=1)
    assert FAILED not in text(client, cellar)


def test_screen_says_so_too_where_no_other_meter_passed(client: Client, cellar: Cellar) -> None:
    check(cellar, cellar.meter, positive=1)
    page = text(client, cellar)
    assert f"<strong>{cellar.meter.name} {FAILED}</strong>" in page
    assert "No meter has passed its control check today." in page


def test_pairs_are_those_that_would_judge(cellar: Cellar) -> None:
    day = clock.today()
    lot = make_test_lot(cellar.atp_test)
    pair = (cellar.meter.pk, cellar.atp_test.pk)
    assert set(limits_by_pair(cellar.point, moment=MOMENT, day=day)) == {pair}
    # The point's own set comes first, and judges nothing once it has run out.
    own = limit_actions.propose_limits(
        by=acting(cellar.brewer),
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        moment=MOMENT,
        alert_rlu=5,
        action_rlu=20,
        source="maker",
        source_note="The maker's leaflet (invented)",
        review_on=day + timedelta(days=1),
        valid_until=day + timedelta(days=1),
        point=cellar.point,
    )
    limit_actions.approve_limits(by=acting(cellar.brewer, now=NOW), limits=own, password=PASSWORD)
    for later, judged in ((1, True), (2, False)):
        then = day + timedelta(days=later)
        assert (pair in limits_by_pair(cellar.point, moment=MOMENT, day=then)) is judged
        found = limits_in_force(
            meter=cellar.meter, test_lot=lot, point=cellar.point, moment=MOMENT, day=then
        )
        assert (found is not None) is judged
