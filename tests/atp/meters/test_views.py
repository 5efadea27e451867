"""The screens of meters, control checks, sticks and limits."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.limits.actions import propose_limits
from brewhygiene.atp.meters.actions import record_control_check
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, ControlCheck, Meter
from brewhygiene.people.models import User
from tests.factories import (
    PASSWORD,
    Cellar,
    acting,
    make_atp_test,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_limits,
    make_meter,
    make_owner,
    make_test_lot,
    make_vessel,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def brewer() -> User:
    make_brewery()
    return make_head_brewer()


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def proposed(brewer: User, **values: Any) -> LimitSet:
    return propose_limits(
        by=acting(brewer),
        **{
            "meter": make_meter(),
            "atp_test": make_atp_test(),
            "alert_rlu": 10,
            "action_rlu": 30,
            "source": "maker",
            "source_note": "A leaflet (invented)",
            "review_on": (timezone.now() + timedelta(days=300)).date(),
            **values,
        },
    )


LOOK = ["atp:meters", "atp:checked", "atp:setup_meters", "atp:setup_sticks", "atp:setup_limits"]
CHANGE = [
    "atp:setup_add_meter",
    "atp:setup_meter",
    "atp:setup_add_atp_test",
    "atp:setup_atp_test",
    "atp:setup_add_test_lot",
    "atp:setup_test_lot",
    "atp:setup_propose_limits",
    "atp:setup_approve_limits",
    "atp:setup_withdraw_limits",
]


def address(name: str, brewer: User) -> str:
    limits = proposed(brewer)
    lot = make_test_lot(limits.atp_test)
    check = record_control_check(by=acting(brewer), meter=limits.meter, blank_rlu=9, positive_rlu=9)
    wanted = {
        "atp:check": [limits.meter.pk],
        "atp:checked": [limits.meter.pk, check.pk],
        "atp:setup_meter": [limits.meter.pk],
        "atp:setup_atp_test": [limits.atp_test.pk],
        "atp:setup_test_lot": [lot.pk],
        "atp:setup_approve_limits": [limits.pk],
        "atp:setup_withdraw_limits": [limits.pk],
    }
    return reverse(name, args=wanted.get(name, []))


@pytest.mark.parametrize("who", [make_head_brewer, make_cellar_hand, make_owner])
@pytest.mark.parametrize("name", LOOK)
def test_anybody_signed_in_may_look(brewer: User, who: Any, name: str) -> None:
    page = signed_in(who()).get(address(name, brewer))
    assert (page.status_code, page.content.decode().count("<h1")) == (200, 1)


@pytest.mark.parametrize("name", CHANGE)
def test_only_the_head_brewer_may_change(brewer: User, name: str) -> None:
    url = address(name, brewer)
    people = [signed_in(who) for who in (brewer, make_cellar_hand(), make_owner())]
    assert [client.get(url).status_code for client in people] == [200, 403, 403]
    assert [client.post(url, {"name": ""}).status_code for client in people] == [422, 403, 403]


def test_cellar_and_head_brewer_may_check_a_meter(brewer: User) -> None:
    url = address("atp:check", brewer)
    people = [signed_in(who) for who in (brewer, make_cellar_hand(), make_owner())]
    assert [client.get(url).status_code for client in people] == [200, 200, 403]
    typed = {"blank_rlu": "0", "positive_rlu": "200"}
    assert [client.post(url, typed).status_code for client in people] == [302, 302, 403]


@pytest.mark.parametrize("name", [*LOOK, *CHANGE, "atp:check"])
def test_a_stranger_is_sent_to_sign_in(brewer: User, name: str) -> None:
    reply = Client().get(address(name, brewer))
    assert reply.headers["Location"].startswith(reverse("people:sign_in"))


@pytest.mark.parametrize("number", [1, 3])
def test_pages_take_the_same_queries_whatever_their_length(
    brewer: User, number: int, django_assert_num_queries: Callable[..., Any]
) -> None:
    cellar = Cellar()
    cellar.sampled(cellar.cleaned())
    now = timezone.now()
    for _ in range(number):
        meter, atp_test = make_meter(), make_atp_test()
        make_test_lot(atp_test)
        make_limits(by=brewer, meter=meter, atp_test=atp_test)
        proposed(brewer, meter=meter, atp_test=atp_test)
        for _ in range(number):
            record_control_check(
                by=acting(brewer, now=now), meter=meter, blank_rlu=0, positive_rlu=200
            )
    client = signed_in(brewer)
    for name, queries in (
        ("atp:meters", 12),
        ("atp:setup_meters", 6),
        ("atp:setup_sticks", 6),
        ("atp:setup_limits", 6),
    ):
        with django_assert_num_queries(queries):
            client.get(reverse(name))


def states(client: Client) -> list[tuple[str, str]]:
    cards = client.get(reverse("atp:meters")).context["cards"]
    return [(card.meter.name, card.state) for card in cards]


def test_meters_page_tells_todays_check(brewer: User) -> None:
    now = timezone.now()
    for name, rlu, moment in (
        ("A passed", 200, now),
        ("B failed", 20, now),
        ("C of yesterday", 200, now - timedelta(days=1)),
    ):
        record_control_check(
            by=acting(brewer, now=moment),
            meter=make_meter(name=name),
            blank_rlu=0,
            positive_rlu=rlu,
        )
    make_meter(name="D never")
    make_meter(name="E out of use", active=False)
    assert states(signed_in(brewer)) == [
        ("A passed", "passed"),
        ("B failed", "failed"),
        ("C of yesterday", "none"),
        ("D never", "none"),
    ]


def test_meters_page_lets_the_latest_check_of_the_day_count(brewer: User) -> None:
    now, meter = timezone.now(), make_meter(name="A")
    for rlu in (20, 200):
        record_control_check(by=acting(brewer, now=now), meter=meter, blank_rlu=0, positive_rlu=rlu)
    assert states(signed_in(brewer)) == [("A", "passed")]


def test_meters_page_names_the_sticks_without_limits(brewer: User) -> None:
    meter, covered, bare, expired = make_meter(), *(make_atp_test() for _ in range(3))
    today = timezone.now().date()
    make_test_lot(covered)
    make_test_lot(bare)
    make_test_lot(expired, expires_on=today - timedelta(days=1))
    make_limits(by=brewer, meter=meter, atp_test=covered)
    (card,) = signed_in(brewer).get(reverse("atp:meters")).context["cards"]
    assert ([each.atp_test for each in card.limits], card.unjudged) == ([covered], [bare])
    assert card.partly == []


def test_point_limits_alone_cover_a_stick_partly(brewer: User) -> None:
    meter, atp_test = make_meter(), make_atp_test()
    make_test_lot(atp_test)
    point = make_vessel().points.get()
    make_limits(by=brewer, meter=meter, atp_test=atp_test, point=point)
    (card,) = signed_in(brewer).get(reverse("atp:meters")).context["cards"]
    assert (card.unjudged, card.partly) == ([], [atp_test])


def test_expired_lot_is_flagged(brewer: User) -> None:
    make_test_lot(lot="OLD", expires_on=timezone.now().date() - timedelta(days=1))
    for name in ("atp:meters", "atp:setup_sticks"):
        assert "past its date" in signed_in(brewer).get(reverse(name)).content.decode()


@pytest.mark.parametrize(
    ("blank", "positive", "words"),
    [
        ("5", "100", ["Check passed"]),
        ("5", "400", ["Check passed"]),
        ("6", "200", ["Check failed", "too high", "Take a fresh blank stick"]),
        ("0", "99", ["Check failed", "too low", "Open a fresh positive control"]),
        ("0", "401", ["Check failed", "too high", "Open a fresh positive control"]),
    ],
)
def test_check_is_judged_and_says_what_to_do(
    brewer: User, blank: str, positive: str, words: list[str]
) -> None:
    meter = make_meter()
    page = signed_in(brewer).post(
        reverse("atp:check", args=[meter.pk]),
        {"blank_rlu": blank, "positive_rlu": positive},
        follow=True,
    )
    text = page.content.decode()
    assert [word for word in words if word not in text] == []
    assert ("What to do" in text) == ("Check failed" in words)


@pytest.mark.parametrize("typed", ["1.5", "-1", "five", "99999999"])
def test_check_with_bad_input_keeps_what_was_typed(brewer: User, typed: str) -> None:
    page = signed_in(brewer).post(
        reverse("atp:check", args=[make_meter().pk]), {"blank_rlu": typed, "positive_rlu": ""}
    )
    assert (page.status_code, ControlCheck.objects.count()) == (422, 0)
    assert set(page.context["form"].errors) == {"blank_rlu", "positive_rlu"}
    assert page.content.decode().count(f'value="{typed}"') == 1


def test_check_sent_twice_is_one(brewer: User) -> None:
    meter, client = make_meter(), signed_in(brewer)
    typed = {"blank_rlu": "0", "positive_rlu": "200", "key": "same"}
    for _ in range(2):
        client.post(reverse("atp:check", args=[meter.pk]), typed)
    assert ControlCheck.objects.count() == 1


def test_check_of_a_meter_out_of_use_is_refused(brewer: User) -> None:
    meter = make_meter(active=False)
    page = signed_in(brewer).post(
        reverse("atp:check", args=[meter.pk]), {"blank_rlu": "0", "positive_rlu": "200"}
    )
    assert page.context["form"].non_field_errors() == [f"{meter.name} is out of use."]


def test_old_check_under_new_ranges_keeps_its_verdict(brewer: User) -> None:
    meter = make_meter()
    check = record_control_check(by=acting(brewer), meter=meter, blank_rlu=0, positive_rlu=200)
    Meter.objects.filter(pk=meter.pk).update(positive_min_rlu=300)
    page = signed_in(brewer).get(reverse("atp:checked", args=[meter.pk, check.pk]))
    text = page.content.decode()
    assert ("Check passed" in text, "too low" in text) == (True, False)


def test_meter_is_added_through_its_form(brewer: User) -> None:
    typed = {
        "name": "Cellar meter",
        "serial": "C-1",
        "blank_max_rlu": "5",
        "positive_min_rlu": "100",
        "positive_max_rlu": "400",
        "active": "on",
    }
    reply = signed_in(brewer).post(reverse("atp:setup_add_meter"), typed)
    assert reply.headers["Location"] == reverse("atp:setup_meters")
    assert Meter.objects.get().positive_max_rlu == 400


def test_meter_refused_is_told_beside_its_field(brewer: User) -> None:
    typed = {
        "name": "Cellar meter",
        "serial": "C-1",
        "blank_max_rlu": "500",
        "positive_min_rlu": "100",
        "positive_max_rlu": "400",
    }
    page = signed_in(brewer).post(reverse("atp:setup_add_meter"), typed)
    assert (page.status_code, Meter.objects.count()) == (422, 0)
    assert dict(page.context["form"].errors) == {
        "blank_max_rlu": ["A blank must read less than the positive control may."]
    }
    assert page.content.decode().count('value="500"') == 1


def test_sticks_and_lots_are_added_through_their_forms(brewer: User) -> None:
    client = signed_in(brewer)
    client.post(reverse("atp:setup_add_atp_test"), {"name": "Rinse stick", "sample_kind": "rinse"})
    atp_test = AtpTest.objects.get()
    url = reverse("atp:setup_add_test_lot")
    form = client.get(url, {"type": atp_test.pk}).context["form"]
    assert form["atp_test"].value() == str(atp_test.pk)
    client.post(url, {"atp_test": atp_test.pk, "lot": "A1", "expires_on": "2099-01-31"})
    assert str(AtpTestLot.objects.get()) == "Rinse stick A1"


def test_lot_past_its_date_is_saved_with_a_warning(brewer: User) -> None:
    typed = {"atp_test": make_atp_test(name="Rinse stick").pk, "lot": "A1"}
    page = signed_in(brewer).post(
        reverse("atp:setup_add_test_lot"), {**typed, "expires_on": "2020-01-31"}, follow=True
    )
    assert [str(message) for message in page.context["messages"]] == [
        "Rinse stick A1 is saved.",
        "Rinse stick A1 is past its date: no stick of it is taken.",
    ]


LIMITS = {
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


@pytest.mark.parametrize("name", ["atp:setup_approve_limits", "atp:setup_withdraw_limits"])
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
        "alert_rlu": ["The alert level cannot be above the action limit."]
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
    client.post(reverse("atp:setup_withdraw_limits", args=[second.pk]), {"password": PASSWORD})
    page = client.get(reverse("atp:setup_limits"))
    assert (page.context["in_force"], set(page.context["past"])) == ([], {first, second})


@pytest.mark.parametrize("name", ["atp:meters", "atp:setup_limits", "atp:setup_propose_limits"])
def test_pages_say_that_two_makes_never_compare(brewer: User, name: str) -> None:
    text = signed_in(brewer).get(reverse(name)).content.decode()
    assert "Numbers of two makes of meter are never comparable" in text
    assert "The maker&#x27;s figure is only a start" in text or "The maker's figure is only" in text
