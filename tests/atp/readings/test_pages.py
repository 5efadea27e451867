"""Who may see the screens of samples, what is due, and how many queries they take."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from brewhygiene.atp.models.meters import AtpTestLot, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.turnarounds.models import Turnaround
from tests import clock
from tests.atp.readings.scenes import cleaned, page_of, typed, url, words
from tests.factories import (
    make_limits,
    make_meter,
    make_point,
    make_test_lot,
    make_user,
    make_vessel,
)
from tests.turnarounds.floor import Floor, counted, signed_in

pytestmark = pytest.mark.django_db


# Who may see and do what


def addresses(floor: Floor, turnaround: Turnaround) -> dict[str, str]:
    result = floor.sampled(turnaround, now=clock.now())
    return {
        "samples": url("samples", turnaround.pk),
        "sample": page_of(turnaround),
        "result": url("reading", result.pk),
        "correct_result": url("correct_reading", result.pk),
    }


def codes(client: Client, at: dict[str, str]) -> dict[str, int]:
    return {name: client.get(address).status_code for name, address in at.items()}


def test_the_cellar_sees_every_screen(floor: Floor, turnaround: Turnaround) -> None:
    at = addresses(floor, turnaround)
    assert codes(floor.client, at) == dict.fromkeys(at, 200)
    for address in at.values():
        assert floor.client.get(address).content.count(b"<h1") == 1


def test_the_owner_looks_and_enters_nothing(floor: Floor, turnaround: Turnaround) -> None:
    at = addresses(floor, turnaround)
    client = signed_in(floor.owner)
    assert codes(client, at) == {
        "samples": 200, "sample": 403, "result": 200, "correct_result": 403,
    }  # fmt: skip
    before = counted(Result)
    for name in ("sample", "correct_result"):
        assert client.post(at[name], typed(floor)).status_code == 403
    assert counted(Result) == before
    for name in ("samples", "result"):
        assert page_of(turnaround) not in client.get(at[name]).content.decode()


def test_somebody_without_a_role_enters_nothing(floor: Floor, turnaround: Turnaround) -> None:
    at = addresses(floor, turnaround)
    client = signed_in(make_user())
    assert [client.get(at[name]).status_code for name in ("sample", "correct_result")] == [403, 403]


def test_nobody_sees_a_screen_without_signing_in(floor: Floor, turnaround: Turnaround) -> None:
    at = addresses(floor, turnaround) | {"point": url("point", floor.point.code)}
    client = signed_in(None)
    for address in at.values():
        answer = client.get(address)
        assert answer.headers["Location"] == f"{reverse('people:sign_in')}?next={address}"


def test_another_vessels_point_is_not_found(floor: Floor, turnaround: Turnaround) -> None:
    elsewhere = make_point(make_vessel(points=0))
    assert floor.client.get(page_of(turnaround, elsewhere)).status_code == 404
    retired = make_point(turnaround.vessel, active=False)
    assert floor.client.get(page_of(turnaround, retired)).status_code == 404


# What is due


def test_the_next_required_point_is_offered_first(floor: Floor, turnaround: Turnaround) -> None:
    # Before it in the vessel's order, but not asked for.
    SamplingPoint.objects.filter(vessel=turnaround.vessel).update(order=1)
    make_point(turnaround.vessel, name="Blow-off", order=0, required_for_release=False)
    second = make_point(turnaround.vessel, name="Manway", order=2)
    page = floor.client.get(url("samples", turnaround.pk))
    assert page.context["next_due"].name == "Point 1"
    first = turnaround.vessel.points.get(name="Point 1")
    floor.sampled(turnaround, point=first, now=clock.now())
    page = floor.client.get(url("samples", turnaround.pk))
    assert f'<a class="button primary next" href="{page_of(turnaround, second)}">' in words(page)


def test_with_every_required_point_read_it_is_ready_to_decide(
    floor: Floor, turnaround: Turnaround
) -> None:
    floor.sampled(turnaround, now=clock.now())
    assert "is ready for the decision." in words(floor.client.get(url("samples", turnaround.pk)))
    decide = reverse("release:decide", args=[turnaround.pk])
    assert decide not in words(floor.client.get(url("samples", turnaround.pk)))
    assert decide in words(signed_in(floor.brewer).get(url("samples", turnaround.pk)))


def test_a_vessel_without_points_says_so(floor: Floor) -> None:
    turnaround = cleaned(floor, vessel=make_vessel(points=0))
    page = words(floor.client.get(url("samples", turnaround.pk)))
    assert "has no sampling points yet" in page
    assert "cannot be released" in page


def test_samples_of_a_running_clean_wait(floor: Floor) -> None:
    clean = floor.at_step(1)
    page = words(floor.client.get(url("samples", clean.turnaround_id)))
    assert "The clean is still running. Take samples when it has ended." in page
    point = clean.turnaround.vessel.points.get(order=0)
    waiting = floor.client.get(page_of(clean.turnaround, point))
    assert f'href="{reverse("turnarounds:clean", args=[clean.pk])}"' in words(waiting)


# Queries


def test_five_points_cost_as_much_as_one(
    floor: Floor, turnaround: Turnaround, django_assert_num_queries: Any
) -> None:
    floor.sampled(turnaround, now=clock.now())
    with django_assert_num_queries(11):
        floor.client.get(url("samples", turnaround.pk))
    for order in range(1, 5):
        point = make_point(turnaround.vessel, order=order)
        floor.sampled(turnaround, point=point, now=clock.now())
    with django_assert_num_queries(11):
        floor.client.get(url("samples", turnaround.pk))


def test_many_meters_and_lots_cost_as_much_as_one(
    floor: Floor, turnaround: Turnaround, django_assert_num_queries: Any
) -> None:
    floor.sampled(turnaround, now=clock.now())
    with django_assert_num_queries(18):
        floor.client.get(page_of(turnaround))
    for _ in range(3):
        floor.checked(now=clock.now(), meter=make_meter())
        make_test_lot(floor.atp_test)
    with django_assert_num_queries(18):
        floor.client.get(page_of(turnaround))
    assert (Meter.objects.count(), AtpTestLot.objects.count()) == (4, 4)


def test_recording_a_reading_asks_for_no_more_than_it_needs(
    floor: Floor, turnaround: Turnaround, django_assert_num_queries: Any
) -> None:
    """Twenty tablets do it at once: what only a page would show is not asked for."""
    make_limits(by=floor.brewer, meter=floor.meter, atp_test=floor.atp_test)
    # PostgreSQL asks for the ledger's lock by a query of its own.
    most = 28 if connection.vendor == "postgresql" else 27
    for made in (1, 2):
        with django_assert_num_queries(most):
            answer = floor.client.post(page_of(turnaround), typed(floor, key=f"tap {made}"))
        assert answer.status_code == 302
        for _ in range(2):
            floor.checked(now=clock.now(), meter=make_meter())
            make_test_lot(floor.atp_test)
