"""The set-up pages of sampling points."""

import pytest
from django.test import Client

from brewhygiene.cellar.models import Vessel
from tests.cellar.typed import POINT
from tests.factories import (
    make_point,
)

pytestmark = pytest.mark.django_db


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
    address = f"/set-up/vessels/{vessel.pk}/points/usual/"
    assert desk.post(address, {"point": "Manway gasket"}).status_code == 302
    point = vessel.points.get(name="Manway gasket")
    assert (point.sample_kind, point.area_cm2, point.required_for_release) == (
        "surface",
        100,
        False,
    )
    page = desk.get(f"/set-up/vessels/{vessel.pk}/")
    assert "Manway gasket" not in [offer.name for offer, _ in page.context["offered"]]


def test_usual_point_that_is_there_already_says_so(desk: Client, vessel: Vessel) -> None:
    address = f"/set-up/vessels/{vessel.pk}/points/usual/"
    desk.post(address, {"point": "Manway gasket"})
    desk.get(f"/set-up/vessels/{vessel.pk}/")  # shows what the first tap did
    response = desk.post(address, {"point": "Manway gasket"}, follow=True)
    assert [str(m) for m in response.context["messages"]] == [
        "FV 9 has a sampling point of this name. Enter a different name."
    ]
    assert vessel.points.count() == 2


@pytest.mark.parametrize("name", ["", "Sight glass", "<script>"])
def test_what_is_no_usual_point_is_not_found(desk: Client, vessel: Vessel, name: str) -> None:
    address = f"/set-up/vessels/{vessel.pk}/points/usual/"
    assert desk.post(address, {"point": name}).status_code == 404


def test_each_button_of_a_page_has_a_key_of_its_own(desk: Client, vessel: Vessel) -> None:
    make_point(vessel)
    context = desk.get(f"/set-up/vessels/{vessel.pk}/").context
    buttons = [context["small_form"], *(form for _, form in context["offered"])]
    assert len({form["key"].value() for form in buttons}) == len(buttons)


def test_point_is_edited_retired_and_taken_back(desk: Client, vessel: Vessel) -> None:
    point = vessel.points.get()
    address = f"/set-up/points/{point.pk}/"
    assert desk.get(address).context["form"]["name"].value() == "Point 1"
    assert desk.post(address, POINT)["Location"] == f"/set-up/vessels/{vessel.pk}/"
    desk.post(f"{address}retire/")
    point.refresh_from_db()
    assert (point.name, point.active) == ("Racking arm", False)
    desk.post(f"{address}reinstate/")
    point.refresh_from_db()
    assert point.active
