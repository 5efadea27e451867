"""The set-up of the cellar: who may, and what it costs."""

import pytest
from django.test import Client

from brewhygiene.cellar.models import Vessel
from brewhygiene.cellar.points import actions as point_actions
from brewhygiene.cellar.vessels import actions
from brewhygiene.people.models import User
from tests.cellar.typed import VESSEL
from tests.factories import (
    PASSWORD,
    acting,
    make_beer,
    make_point,
    make_vessel,
)

pytestmark = pytest.mark.django_db


WRITES = [
    "vessels/add/",
    "vessels/{vessel}/edit/",
    "vessels/{vessel}/photo/set/",
    "vessels/{vessel}/photo/remove/",
    "vessels/{vessel}/out-of-service/",
    "vessels/{vessel}/back-in-service/",
    "vessels/{vessel}/remove/",
    "vessels/{vessel}/points/add/",
    "vessels/{vessel}/points/usual/",
    "points/{point}/",
    "points/{point}/retire/",
    "points/{point}/reinstate/",
    "points/{point}/photo/set/",
    "points/{point}/photo/remove/",
    "beers/add/",
    "beers/{beer}/",
    "hold-times/",
]
LISTS = ["vessels/", "vessels/{vessel}/", "beers/", "hold-times/"]


@pytest.fixture
def numbers(vessel: Vessel) -> dict[str, int]:
    return {"vessel": vessel.pk, "point": vessel.points.get().pk, "beer": make_beer().pk}


@pytest.mark.parametrize("page", WRITES)
def test_cellar_hand_changes_nothing(tablet: Client, numbers: dict, page: str) -> None:
    assert tablet.post("/set-up/" + page.format(**numbers), VESSEL).status_code == 403
    assert Vessel.objects.get().name == "FV 9"


@pytest.mark.parametrize("page", LISTS)
def test_cellar_hand_may_look(tablet: Client, numbers: dict, page: str) -> None:
    response = tablet.get("/set-up/" + page.format(**numbers))
    assert response.status_code == 200
    main = response.content.decode().split("<main")[1]
    assert "<form" not in main.replace('<form method="post" action="/set-up/hold-times/"', "")
    assert "/add/" not in main


@pytest.mark.parametrize("page", [*LISTS, *WRITES])
def test_stranger_is_sent_to_sign_in(numbers: dict, page: str) -> None:
    address = "/set-up/" + page.format(**numbers)
    assert Client().post(address, VESSEL)["Location"] == f"/sign-in/?next={address}"


@pytest.mark.parametrize("more", [0, 2])
@pytest.mark.parametrize("page, queries", [("vessels/", 5), ("beers/", 5)])
def test_list_costs_the_same_for_one_and_for_three(
    desk: Client, more: int, page: str, queries: int, django_assert_num_queries
) -> None:
    """Session, user, brewery, permissions, and the list."""
    for _ in range(1 + more):
        make_vessel(points=2)
        make_beer()
    with django_assert_num_queries(queries):
        desk.get(f"/set-up/{page}")


@pytest.mark.parametrize("points", [1, 3])
def test_vessel_s_page_costs_the_same_for_one_and_for_three_points(
    desk: Client, points: int, django_assert_num_queries
) -> None:
    vessel = make_vessel(points=points)
    with django_assert_num_queries(6):
        desk.get(f"/set-up/vessels/{vessel.pk}/")


def test_counts_of_the_list_leave_retired_points_out(desk: Client, brewer: User) -> None:
    vessel = make_vessel(points=3)
    point = vessel.points.get(order=0)
    point_actions.retire_point(by=acting(brewer), point=point, password=PASSWORD)
    make_point(vessel, required_for_release=False)
    actions.take_out_of_service(by=acting(brewer), vessel=vessel, reason="Weld")
    (row,) = desk.get("/set-up/vessels/").context["vessels"]
    assert (row.points_in_use, row.points_required) == (3, 2)
