"""The actions on sampling points, and the usual points."""

import re

import pytest

from brewhygiene.cellar.models import SamplingPoint, Vessel, VesselKind
from brewhygiene.cellar.points import actions as point_actions
from brewhygiene.cellar.points.actions import CODE_ALPHABET, CODE_LENGTH
from brewhygiene.cellar.usual_points import USUAL_POINTS, still_offered
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import (
    PASSWORD,
    Cellar,
    acting,
    make_cellar_hand,
    make_head_brewer,
    make_vessel,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def brewer() -> User:
    return make_head_brewer()


@pytest.fixture
def vessel() -> Vessel:
    return make_vessel(points=0, name="FV 1")


def added(by: User, vessel: Vessel, **values) -> SamplingPoint:
    return point_actions.add_point(
        by=acting(by),
        vessel=vessel,
        password=PASSWORD,
        **{"name": "Cone", "sample_kind": "rinse", **values},
    )


def test_code_is_short_and_hard_to_mistake(brewer: User, vessel: Vessel) -> None:
    point = added(brewer, vessel)
    assert re.fullmatch(f"[{CODE_ALPHABET}]{{{CODE_LENGTH}}}", point.code)
    assert set("01ILOU") & set(CODE_ALPHABET) == set()
    assert len(set(CODE_ALPHABET)) == 30


def test_codes_differ(brewer: User, vessel: Vessel) -> None:
    codes = {added(brewer, vessel, name=f"Point {n}").code for n in range(20)}
    assert len(codes) == 20


def test_points_come_one_after_the_other(brewer: User, vessel: Vessel) -> None:
    assert [added(brewer, vessel, name=f"P{n}").order for n in range(3)] == [0, 1, 2]


@pytest.mark.parametrize("area_cm2", [None, 0])
def test_surface_sample_needs_its_area(brewer: User, vessel: Vessel, area_cm2) -> None:
    with pytest.raises(Refusal) as refused:
        added(brewer, vessel, sample_kind="surface", area_cm2=area_cm2)
    assert refused.value.field == "area_cm2"
    assert vessel.points.count() == 0


def test_rinse_has_no_area(brewer: User, vessel: Vessel) -> None:
    assert added(brewer, vessel, area_cm2=100.0).area_cm2 is None


def test_name_once_on_a_vessel_whatever_its_capitals(brewer: User, vessel: Vessel) -> None:
    added(brewer, vessel)
    with pytest.raises(Refusal) as refused:
        added(brewer, vessel, name="CONE")
    assert (refused.value.field, refused.value.code) == ("name", "taken")
    assert added(brewer, make_vessel(points=0), name="CONE").pk


def test_name_of_a_retired_point_says_that_it_is_there(brewer: User, vessel: Vessel) -> None:
    point_actions.retire_point(by=acting(brewer), point=added(brewer, vessel), password=PASSWORD)
    with pytest.raises(Refusal, match="Reinstate it instead"):
        added(brewer, vessel)


def test_edit_keeps_the_code(brewer: User, vessel: Vessel) -> None:
    point = added(brewer, vessel)
    edited = point_actions.edit_point(
        by=acting(brewer),
        point=point,
        name="Racking arm",
        sample_kind="surface",
        area_cm2=25.0,
        required_for_release=False,
        where_to_find="Inside",
        password=PASSWORD,
    )
    assert edited.code == point.code
    assert Entry.objects.last().values == {
        "before": {
            "name": "Cone",
            "sample_kind": "rinse",
            "area_cm2": None,
            "required_for_release": True,
            "where_to_find": "",
        },
        "after": {
            "name": "Racking arm",
            "sample_kind": "surface",
            "area_cm2": 25.0,
            "required_for_release": False,
            "where_to_find": "Inside",
        },
    }


def test_point_with_readings_keeps_its_sample_kind() -> None:
    cellar = Cellar()
    cellar.sampled(cellar.cleaned())
    with pytest.raises(Refusal) as refused:
        point_actions.edit_point(
            by=acting(cellar.brewer),
            point=cellar.point,
            name="Point 1",
            sample_kind="surface",
            area_cm2=100.0,
            password=PASSWORD,
        )
    assert (refused.value.field, refused.value.code) == ("sample_kind", "has_history")


def test_retired_point_keeps_its_readings_and_comes_back() -> None:
    cellar = Cellar()
    cellar.sampled(cellar.cleaned())
    by, point = acting(cellar.brewer), cellar.point
    point_actions.retire_point(by=by, point=point, password=PASSWORD)
    point.refresh_from_db()
    assert (point.active, point.results.count()) == (False, 1)
    with pytest.raises(Refusal):
        point_actions.retire_point(by=by, point=point, password=PASSWORD)
    point_actions.reinstate_point(by=by, point=point, password=PASSWORD)
    point.refresh_from_db()
    assert point.active
    with pytest.raises(Refusal):
        point_actions.reinstate_point(by=by, point=point, password=PASSWORD)


def test_cellar_hand_changes_no_point(brewer: User, vessel: Vessel) -> None:
    point, by = added(brewer, vessel), acting(make_cellar_hand())
    attempts = [
        lambda: added(by.user, vessel, name="Other"),
        lambda: point_actions.edit_point(
            by=by, point=point, name="x", sample_kind="rinse", password=PASSWORD
        ),
        lambda: point_actions.retire_point(by=by, point=point, password=PASSWORD),
        lambda: point_actions.reinstate_point(by=by, point=point, password=PASSWORD),
        lambda: point_actions.set_point_photo(by=by, point=point, photo=None),
    ]
    for attempt in attempts:
        with pytest.raises(NotAllowed):
            attempt()


@pytest.mark.parametrize("kind", VesselKind.values)
def test_every_kind_of_vessel_has_usual_points_that_the_verb_takes(brewer: User, kind: str) -> None:
    vessel = make_vessel(points=0, kind=kind)
    for offer in USUAL_POINTS[kind]:
        added(brewer, vessel, **offer._asdict())
    assert vessel.points.count() == len(USUAL_POINTS[kind])
    assert vessel.points.filter(required_for_release=True, sample_kind="rinse").exists()


def test_usual_points_of_a_fermenter() -> None:
    """Common practice, no source."""
    assert [point.name for point in USUAL_POINTS["fermenter"]] == [
        "Last rinse at the cone",
        "Sample valve",
        "Racking arm",
        "Manway gasket",
        "Under the spray device",
        "Carbonation stone",
        "Pressure-relief and vacuum valve",
        "Blow-off",
    ]


def test_what_a_vessel_has_is_not_offered_again() -> None:
    offered = still_offered("bright_tank", {"sample valve", "Manway gasket"})
    assert [point.name for point in offered] == [
        "Last rinse at the outlet",
        "Sight glass",
        "Carbonation stone",
    ]
