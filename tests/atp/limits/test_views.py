"""The screens of limits: proposed, approved, retired."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.atp.limits.actions import propose_limits
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.people.models import User
from tests import clock
from tests.factories import (
    PASSWORD,
    acting,
    make_atp_test,
    make_brewery,
    make_head_brewer,
    make_limits,
    make_meter,
    make_vessel,
)
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def brewer() -> User:
    make_brewery()
    return make_head_brewer()


def proposed(brewer: User, **values: Any) -> LimitSet:
    return propose_limits(
        by=acting(brewer),
        **{
            "meter": make_meter(),
            "atp_test": make_atp_test(),
            "moment": "in_sanitiser",
            "alert_rlu": 10,
            "action_rlu": 30,
            "source": "maker",
            "source_note": "A leaflet (invented)",
            "review_on": (clock.now() + timedelta(days=300)).date(),
            **values,
        },
    )


LIMITS = {
    "moment": "in_sanitiser",
    "alert_rlu": "10",
    "action_rlu": "30",
    "source": "maker",
    "source_note": "A leaflet (invented)",
    "review_on": "2099-01-01",
}


def test_limits_are_proposed_then_approved_with_the_password(brewer: User) -> None:
    client, meter, atp_test = signed_in(brewer), make_meter(), make_atp_test()
    reply = client.post(
        reverse("atp:setup_propose_limits"),
        {**LIMITS, "meter": meter.pk, "atp_test": atp_test.pk},
    )
    limits = LimitSet.objects.get()
    approve = reverse("atp:setup_approve_limits", args=[limits.pk])
    assert (reply.headers["Location"], limits.approved_at) == (approve, None)
    client.post(approve, {"password": PASSWORD})
    limits.refresh_from_db()
    assert (limits.approval.user, limits.retired_at) == (brewer, None)


def test_ones_own_proposal_is_refused_beside_the_password_where_another_may(brewer: User) -> None:
    limits = proposed(brewer)
    approve = reverse("atp:setup_approve_limits", args=[limits.pk])
    words = "You proposed these limits. Another person has to approve them: Ada Vance."
    assert words not in signed_in(brewer).get(approve).content.decode()
    other = make_head_brewer(full_name="Ada Vance")
    assert words in signed_in(brewer).get(approve).content.decode()
    assert words not in signed_in(other).get(approve).content.decode()
    page = signed_in(brewer).post(approve, {"password": PASSWORD})
    assert (page.status_code, page.context["form"].errors) == (422, {"password": [words]})
    assert signed_in(other).post(approve, {"password": PASSWORD}).status_code == 302


@pytest.mark.parametrize("name", ["atp:setup_approve_limits", "atp:setup_retire_limits"])
@pytest.mark.parametrize("password", ["", "wrong"])
def test_limits_are_not_signed_without_the_password(brewer: User, name: str, password: str) -> None:
    limits = proposed(brewer)
    page = signed_in(brewer).post(reverse(name, args=[limits.pk]), {"password": password})
    limits.refresh_from_db()
    assert (page.status_code, limits.approved_at, limits.retired_at) == (422, None, None)
    assert set(page.context["form"].errors) == {"password"}


def test_limits_of_a_point_of_the_other_kind_are_refused_beside_it(brewer: User) -> None:
    point = make_vessel().points.get()
    typed = {
        **LIMITS,
        "meter": make_meter().pk,
        "atp_test": make_atp_test(name="Swab", sample_kind="surface").pk,
        "point": point.pk,
    }
    page = signed_in(brewer).post(reverse("atp:setup_propose_limits"), typed)
    assert (page.status_code, LimitSet.objects.count()) == (422, 0)
    assert set(page.context["form"].errors) == {"point"}


def test_limits_in_the_wrong_order_are_refused_beside_the_field(brewer: User) -> None:
    typed = {**LIMITS, "meter": make_meter().pk, "atp_test": make_atp_test().pk}
    page = signed_in(brewer).post(reverse("atp:setup_propose_limits"), {**typed, "alert_rlu": "31"})
    assert dict(page.context["form"].errors) == {
        "alert_rlu": ["Enter an alert level at or below the action limit."]
    }
    assert page.content.decode().count('value="31"') == 1


def test_limits_page_keeps_what_was_replaced_and_withdrawn(brewer: User) -> None:
    meter, atp_test = make_meter(), make_atp_test()
    first = make_limits(by=brewer, meter=meter, atp_test=atp_test)
    second = make_limits(by=brewer, meter=meter, atp_test=atp_test, alert_rlu=5)
    waiting = proposed(brewer, meter=meter, atp_test=atp_test)
    client = signed_in(brewer)
    page = client.get(reverse("atp:setup_limits"))
    assert (page.context["in_force"], page.context["waiting"], list(page.context["past"])) == (
        [second],
        [waiting],
        [first],
    )
    client.post(reverse("atp:setup_retire_limits", args=[second.pk]), {"password": PASSWORD})
    page = client.get(reverse("atp:setup_limits"))
    assert (page.context["in_force"], set(page.context["past"])) == ([], {first, second})


@pytest.mark.parametrize("name", ["atp:meters", "atp:setup_limits", "atp:setup_propose_limits"])
def test_pages_say_that_two_makes_never_compare(brewer: User, name: str) -> None:
    text = signed_in(brewer).get(reverse(name)).content.decode()
    assert "Numbers of two makes of meter are never comparable" in text
    assert "Replace the maker's figure with your own baseline." in text
