"""The screens of meters, control checks, ATP tests and limits."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.atp.limits.actions import propose_limits
from brewhygiene.atp.meters.actions import record_control_check
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, ControlCheck, Meter
from brewhygiene.people.models import User
from tests import clock
from tests.factories import (
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


LOOK = ["atp:meters", "atp:checked", "atp:setup_meters", "atp:setup_atp_tests", "atp:setup_limits"]
CHANGE = [
    "atp:setup_add_meter",
    "atp:setup_meter",
    "atp:setup_add_atp_test",
    "atp:setup_atp_test",
    "atp:setup_add_test_lot",
    "atp:setup_test_lot",
    "atp:setup_propose_limits",
    "atp:setup_approve_limits",
    "atp:setup_retire_limits",
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
        "atp:setup_retire_limits": [limits.pk],
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
    now = clock.now()
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
        ("atp:setup_atp_tests", 6),
        ("atp:setup_limits", 6),
    ):
        with django_assert_num_queries(queries):
            client.get(reverse(name))


def states(client: Client) -> list[tuple[str, str]]:
    cards = client.get(reverse("atp:meters")).context["cards"]
    return [(card.meter.name, card.state) for card in cards]


def test_meters_page_tells_todays_check(brewer: User) -> None:
    now = clock.now()
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
    now, meter = clock.now(), make_meter(name="A")
    for rlu in (20, 200):
        record_control_check(by=acting(brewer, now=now), meter=meter, blank_rlu=0, positive_rlu=rlu)
    assert states(signed_in(brewer)) == [("A", "passed")]


def test_meters_page_names_the_tests_without_limits(brewer: User) -> None:
    meter, covered, bare, expired = make_meter(), *(make_atp_test() for _ in range(3))
    today = clock.now().date()
    make_test_lot(covered)
    make_test_lot(bare)
    make_test_lot(expired, expires_on=today - timedelta(days=1))
    make_limits(by=brewer, meter=meter, atp_test=covered)
    (card,) = signed_in(brewer).get(reverse("atp:meters")).context["cards"]
    assert ([each.atp_test for each in card.limits], card.unjudged) == ([covered], [bare])
    assert card.partly == []


def test_point_limits_alone_cover_a_test_partly(brewer: User) -> None:
    meter, atp_test = make_meter(), make_atp_test()
    make_test_lot(atp_test)
    point = make_vessel().points.get()
    make_limits(by=brewer, meter=meter, atp_test=atp_test, point=point)
    (card,) = signed_in(brewer).get(reverse("atp:meters")).context["cards"]
    assert (card.unjudged, card.partly) == ([], [atp_test])


def test_expired_lot_is_flagged(brewer: User) -> None:
    make_test_lot(lot="OLD", expires_on=clock.now().date() - timedelta(days=1))
    for name in ("atp:meters", "atp:setup_atp_tests"):
        assert "out of date since" in signed_in(brewer).get(reverse(name)).content.decode()


@pytest.mark.parametrize(
    ("blank", "positive", "words"),
    [
        ("5", "100", ["Check passed"]),
        ("5", "400", ["Check passed"]),
        ("6", "200", ["Check failed", "too high", "Take a fresh blank"]),
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
    assert ("Repeat the check." in text) == ("Check failed" in words)


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
    assert page.context["form"].non_field_errors() == [
        f"{meter.name} is retired. Choose another meter."
    ]


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
        "blank_max_rlu": ["Enter a blank maximum below the positive minimum."]
    }
    assert page.content.decode().count('value="500"') == 1


def test_atp_tests_and_lots_are_added_through_their_forms(brewer: User) -> None:
    client = signed_in(brewer)
    client.post(
        reverse("atp:setup_add_atp_test"), {"name": "Rinse sampler", "sample_kind": "rinse"}
    )
    atp_test = AtpTest.objects.get()
    url = reverse("atp:setup_add_test_lot")
    form = client.get(url, {"type": atp_test.pk}).context["form"]
    assert form["atp_test"].value() == str(atp_test.pk)
    client.post(url, {"atp_test": atp_test.pk, "lot": "A1", "expires_on": "2099-01-31"})
    assert str(AtpTestLot.objects.get()) == "Rinse sampler A1"


def test_lot_past_its_date_is_saved_with_a_warning(brewer: User) -> None:
    typed = {"atp_test": make_atp_test(name="Rinse sampler").pk, "lot": "A1"}
    page = signed_in(brewer).post(
        reverse("atp:setup_add_test_lot"), {**typed, "expires_on": "2020-01-31"}, follow=True
    )
    assert [str(message) for message in page.context["messages"]] == [
        "Rinse sampler A1 is saved.",
        "Rinse sampler A1 is out of date, so no sample can be taken with it.",
    ]
