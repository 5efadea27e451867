"""Limits for the points of one kind of vessel: narrower than all, wider than one point."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from brewhygiene.atp.limits import actions as limit_actions
from brewhygiene.atp.limits.queries import limits_by_pair, limits_in_force
from brewhygiene.atp.meters.queries import meter_cards
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from tests import clock
from tests.factories import PASSWORD, Cellar, acting, make_limits, make_point, make_vessel

pytestmark = pytest.mark.django_db

# Whose limits the factories make.
MOMENT = "in_sanitiser"


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def put(cellar: Cellar, **values: Any) -> LimitSet:
    return make_limits(by=cellar.brewer, meter=cellar.meter, atp_test=cellar.atp_test, **values)


def at(cellar: Cellar, point: SamplingPoint, days: int = 0) -> LimitSet | None:
    return limits_in_force(
        meter=cellar.meter,
        test_lot=cellar.lot,
        point=point,
        moment=MOMENT,
        day=clock.today() + timedelta(days=days),
    )


def propose(cellar: Cellar, **values: Any) -> LimitSet:
    day = clock.today()
    given = {
        "meter": cellar.meter,
        "atp_test": cellar.atp_test,
        "moment": MOMENT,
        "alert_rlu": 5,
        "action_rlu": 20,
        "source": "maker",
        "source_note": "Leaflet (invented)",
        "review_on": day + timedelta(days=1),
    }
    return limit_actions.propose_limits(by=acting(cellar.brewer), **(given | values))


def test_the_narrower_judges_point_then_kind_then_all(cellar: Cellar) -> None:
    fermenter, bright = cellar.point, make_vessel(kind="bright_tank").points.get()
    second = make_point(cellar.vessel, name="Arm", order=1)
    of_kind = put(cellar, vessel_kind="fermenter", alert_rlu=6)
    of_point = put(cellar, point=second, alert_rlu=4)
    assert at(cellar, bright) == cellar.limits
    assert at(cellar, fermenter) == of_kind
    assert at(cellar, second) == of_point
    # Each stays in force beside the others.
    assert LimitSet.objects.filter(retired_at__isnull=True).count() == 3


def test_kind_that_was_approved_first_is_still_the_narrower(cellar: Cellar) -> None:
    of_kind = put(cellar, vessel_kind="fermenter")
    put(cellar, alert_rlu=9)
    assert at(cellar, cellar.point) == of_kind


def test_limits_of_another_kind_judge_nothing(cellar: Cellar) -> None:
    limit_actions.retire_limits(by=acting(cellar.brewer), limits=cellar.limits, password=PASSWORD)
    put(cellar, vessel_kind="bright_tank")
    assert at(cellar, cellar.point) is None
    assert limits_by_pair(cellar.point, moment=MOMENT, day=clock.today()) == {}


def test_kind_that_has_run_out_is_not_replaced_by_the_wider_set(cellar: Cellar) -> None:
    day = clock.today()
    limits = propose(cellar, vessel_kind="fermenter", valid_until=day + timedelta(days=1))
    limit_actions.approve_limits(by=acting(cellar.brewer), limits=limits, password=PASSWORD)
    assert at(cellar, cellar.point, days=1) == limits
    assert at(cellar, cellar.point, days=2) is None
    pair = (cellar.meter.pk, cellar.atp_test.pk)
    assert set(limits_by_pair(cellar.point, moment=MOMENT, day=day + timedelta(days=1))) == {pair}
    assert limits_by_pair(cellar.point, moment=MOMENT, day=day + timedelta(days=2)) == {}


def test_approval_retires_the_set_of_the_same_kind_alone(cellar: Cellar) -> None:
    first = put(cellar, vessel_kind="fermenter")
    other = put(cellar, vessel_kind="keg")
    second = put(cellar, vessel_kind="fermenter", alert_rlu=7)
    standing = set(LimitSet.objects.filter(retired_at__isnull=True))
    assert standing == {cellar.limits, other, second}
    first.refresh_from_db()
    assert first.retired_at is not None


def test_database_keeps_one_set_in_force_for_a_kind(cellar: Cellar) -> None:
    first = put(cellar, vessel_kind="fermenter")
    approval = put(cellar, vessel_kind="keg").approval
    copy = LimitSet.objects.get(pk=first.pk)
    copy.pk, copy.approval = None, approval
    with pytest.raises(IntegrityError), transaction.atomic():
        copy.save(force_insert=True)


def test_point_and_kind_at_once_are_refused_beside_the_kind(cellar: Cellar) -> None:
    with pytest.raises(Refusal) as refused:
        propose(cellar, point=cellar.point, vessel_kind="fermenter")
    assert (refused.value.field, refused.value.code) == ("vessel_kind", "point_and_kind")
    with pytest.raises(Refusal) as refused:
        propose(cellar, vessel_kind="teapot")
    assert refused.value.field == "vessel_kind"
    assert LimitSet.objects.get() == cellar.limits


def test_ledger_names_the_kind_and_is_silent_where_there_is_none(cellar: Cellar) -> None:
    propose(cellar, vessel_kind="fermenter")
    proposals = Entry.objects.filter(verb="propose limits").order_by("number")
    assert [entry.values.get("vessel_kind") for entry in proposals] == [None, "fermenter"]


def test_limits_are_proposed_for_a_kind_and_the_reading_says_which_judged_it(
    client: Client, cellar: Cellar
) -> None:
    client.force_login(cellar.brewer)
    day = clock.today()
    answer = client.post(
        "/set-up/limits/propose/",
        {
            "meter": cellar.meter.pk,
            "atp_test": cellar.atp_test.pk,
            "vessel_kind": "fermenter",
            "moment": MOMENT,
            "alert_rlu": "3",
            "action_rlu": "8",
            "source": "maker",
            "source_note": "Leaflet (invented)",
            "review_on": (day + timedelta(days=30)).isoformat(),
        },
    )
    limits = LimitSet.objects.get(vessel_kind="fermenter")
    assert answer.status_code == 302
    limit_actions.approve_limits(by=acting(cellar.brewer), limits=limits, password=PASSWORD)
    page = client.get("/set-up/limits/").content.decode()
    assert "Every rinse point of a fermenter" in page
    turnaround = cellar.cleaned(now=clock.now() - timedelta(minutes=40))
    cellar.checked(now=clock.now())
    result = cellar.sampled(turnaround, rlu=5, now=clock.now())
    assert (result.limits, result.verdict) == (limits, "alert")
    page = client.get(f"/atp-readings/{result.pk}/").content.decode()
    assert "for every rinse point of a fermenter" in " ".join(page.split())


def test_card_of_a_meter_says_that_limits_of_a_kind_are_no_limits_for_all(
    cellar: Cellar,
) -> None:
    limit_actions.retire_limits(by=acting(cellar.brewer), limits=cellar.limits, password=PASSWORD)
    put(cellar, vessel_kind="fermenter")
    (card,) = meter_cards(now=clock.now(), today=clock.today())
    assert (card.unjudged, card.partly) == ([], [cellar.atp_test])
