"""The set-up pages of sampling points."""

from urllib.parse import urlencode

import pytest
from django.test import Client

from brewhygiene.cellar.models import Vessel
from tests.cellar.typed import POINT, SIGNED
from tests.factories import (
    make_point,
)

pytestmark = pytest.mark.django_db


def usual(vessel: Vessel, name: str) -> str:
    """Where one of the usual points is added."""
    return f"/set-up/vessels/{vessel.pk}/points/usual/?{urlencode({'point': name})}"


def test_point_is_added_from_what_was_typed(desk: Client, vessel: Vessel) -> None:
    assert desk.post(f"/set-up/vessels/{vessel.pk}/points/add/", POINT).status_code == 302
    point = vessel.points.get(name="Racking arm")
    assert (point.area_cm2, point.required_for_release, point.order) == (25, True, 1)


@pytest.mark.parametrize(
    "wrong, errors",
    [
        (
            {"area_cm2": ""},
            {"area_cm2": ["Enter the area swabbed. 100 cm² is 10 × 10 cm."]},
        ),
        ({"area_cm2": "0"}, {"area_cm2": ["0 cm² is too low. Enter at least 1 cm²."]}),
        ({"sample_kind": ""}, {"sample_kind": ["Choose rinse or surface."]}),
        (
            {"name": "POINT 1"},
            {"name": ["FV 9 has a sampling point of this name. Enter a different name."]},
        ),
    ],
)
def test_bad_point_is_named_and_the_rest_is_kept(
    desk: Client, vessel: Vessel, wrong: dict, errors: dict
) -> None:
    response = desk.post(f"/set-up/vessels/{vessel.pk}/points/add/", {**POINT, **wrong})
    form = response.context["form"]
    assert (response.status_code, form.errors) == (422, errors)
    assert form["where_to_find"].value() == "Inside the arm"
    assert vessel.points.count() == 1


def test_usual_point_is_added_with_one_tap(desk: Client, vessel: Vessel) -> None:
    address = usual(vessel, "Manway gasket")
    assert desk.get(address).content.decode().count("<h1>") == 1
    assert desk.post(address, SIGNED).status_code == 302
    point = vessel.points.get(name="Manway gasket")
    assert (point.sample_kind, point.area_cm2, point.required_for_release) == (
        "surface",
        100,
        False,
    )
    page = desk.get(f"/set-up/vessels/{vessel.pk}/")
    assert "Manway gasket" not in [offer.name for offer in page.context["offered"]]


def test_usual_point_that_is_there_already_says_so(desk: Client, vessel: Vessel) -> None:
    address = usual(vessel, "Manway gasket")
    desk.post(address, SIGNED)
    response = desk.post(address, SIGNED)
    assert response.status_code == 422
    assert response.context["form"].non_field_errors() == [
        "FV 9 has a sampling point of this name. Enter a different name."
    ]
    assert vessel.points.count() == 2


@pytest.mark.parametrize("name", ["", "Sight glass", "<script>"])
def test_what_is_no_usual_point_is_not_found(desk: Client, vessel: Vessel, name: str) -> None:
    assert desk.get(usual(vessel, name)).status_code == 404
    assert desk.post(usual(vessel, name), SIGNED).status_code == 404


@pytest.mark.parametrize(
    ("password", "message"),
    [
        ("", "Enter the password."),
        ("not-mine", "This is not your password. Nothing was signed."),
    ],
)
def test_points_change_with_the_password_only(
    desk: Client, vessel: Vessel, password: str, message: str
) -> None:
    retired = make_point(vessel, name="Old arm", active=False)
    before = list(vessel.points.values())
    for address, given in (
        (f"/set-up/vessels/{vessel.pk}/points/add/", POINT),
        (f"/set-up/points/{vessel.points.get(name='Point 1').pk}/", POINT),
        (f"/set-up/points/{vessel.points.get(name='Point 1').pk}/retire/", {}),
        (f"/set-up/points/{retired.pk}/reinstate/", {}),
        (usual(vessel, "Manway gasket"), {}),
    ):
        response = desk.post(address, {**given, "password": password})
        assert (response.status_code, response.context["form"].errors) == (
            422,
            {"password": [message]},
        )
        assert 'value="not-mine"' not in response.content.decode()
    assert list(vessel.points.values()) == before


def test_point_is_edited_retired_and_taken_back(desk: Client, vessel: Vessel) -> None:
    point = vessel.points.get()
    address = f"/set-up/points/{point.pk}/"
    assert desk.get(address).context["form"]["name"].value() == "Point 1"
    assert desk.post(address, POINT)["Location"] == f"/set-up/vessels/{vessel.pk}/"
    assert desk.post(f"{address}retire/", SIGNED).status_code == 302
    point.refresh_from_db()
    assert (point.name, point.active) == ("Racking arm", False)
    assert desk.post(f"{address}reinstate/", SIGNED).status_code == 302
    point.refresh_from_db()
    assert point.active
