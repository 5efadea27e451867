"""The form that sends a plate by itself: its bounds, and what is usual where nothing is typed."""

from datetime import UTC, datetime
from typing import Any

import pytest

from brewhygiene.plates.forms import SendForm
from brewhygiene.plates.media import MEDIA
from tests import clock
from tests.factories import Cellar, make_point, make_vessel

TAKEN = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


def form(cellar: Cellar, typed: dict[str, Any] | None = None) -> SendForm:
    return SendForm(typed, vessel=cellar.vessel, brewery=cellar.brewery, inside="PAA")


def sent(cellar: Cellar, **typed: Any) -> SendForm:
    return form(
        cellar, {"point": cellar.point.pk, "medium": "MRS", "neutraliser": "thiosulfate", **typed}
    )


@pytest.mark.parametrize(
    "field, least, most, too_little, too_much",
    [
        ("incubation_c", "4", "60", "3.9", "60.1"),
        ("incubation_days", "1", "30", "0", "31"),
        ("suspension_ml", "0.1", "10000", "0.09", "10000.1"),
        ("area_cm2", "1", "10000", "0.9", "10000.1"),
    ],
)
def test_each_number_of_a_sample_has_its_bounds_and_may_be_left_blank(
    cellar: Cellar, field: str, least: str, most: str, too_little: str, too_much: str
) -> None:
    make_point(cellar.vessel, sample_kind="surface", order=5)
    for typed, refused in (
        ("", False),
        (least, False),
        (most, False),
        (too_little, True),
        (too_much, True),
    ):
        assert set(sent(cellar, **{field: typed}).errors) == ({field} if refused else set()), typed


def test_a_swab_is_asked_for_only_where_the_vessel_has_a_surface_in_use(cellar: Cellar) -> None:
    assert not {"suspension_ml", "area_cm2"} & set(form(cellar).fields)
    old = make_point(cellar.vessel, sample_kind="surface", order=5, active=False)
    assert not {"suspension_ml", "area_cm2"} & set(form(cellar).fields)
    old.active = True
    old.save()
    assert {"suspension_ml", "area_cm2"} <= set(form(cellar).fields)


def test_the_points_to_choose_from_are_those_in_use_of_this_vessel(cellar: Cellar) -> None:
    make_point(cellar.vessel, name="Old", order=5, active=False)
    make_point(make_vessel())
    choices = list(form(cellar).fields["point"].choices)
    # By its own name: the page says of which vessel.
    assert [label for _, label in choices] == [cellar.point.name]


@pytest.mark.parametrize("medium", MEDIA, ids=lambda medium: medium.name)
def test_a_medium_is_incubated_as_is_usual_for_it_unless_typed_otherwise(
    cellar: Cellar, medium: Any
) -> None:
    usual = sent(cellar, medium=medium.name, other_medium="ignored")
    assert usual.is_valid()
    assert (usual.medium_name, usual.incubation) == (
        medium.name,
        (medium.incubation_c, medium.incubation_days),
    )
    warmer = sent(cellar, medium=medium.name, incubation_c="30")
    longer = sent(cellar, medium=medium.name, incubation_days="9")
    assert warmer.is_valid()
    assert longer.is_valid()
    assert warmer.incubation == (30, medium.incubation_days)
    assert longer.incubation == (medium.incubation_c, 9)


def test_bacteria_grow_a_week_and_yeasts_five_or_six_days_at_28_degrees() -> None:
    """As the module says of common practice."""
    assert {medium.name: (medium.incubation_c, medium.incubation_days) for medium in MEDIA} == {
        "MRS": (28, 7),
        "UBA": (28, 7),
        "SDA": (28, 7),
        "WLN": (28, 5),
        "LWYM": (28, 6),
        "Copper-sulfate agar": (28, 7),
    }


def test_another_medium_has_a_name_and_is_incubated_a_week(cellar: Cellar) -> None:
    assert sent(cellar, medium="other").errors == {"other_medium": ["Enter the medium."]}
    other = sent(cellar, medium="other", other_medium="Wort agar")
    assert other.is_valid()
    assert (other.medium_name, other.incubation) == ("Wort agar", (28, 7))
    for letters, fits in ((60, True), (61, False)):
        assert sent(cellar, medium="other", other_medium="x" * letters).is_valid() is fits


def test_a_sample_was_taken_now_unless_typed(cellar: Cellar) -> None:
    now, earlier = sent(cellar), sent(cellar, taken_at="2026-03-09T08:30")
    assert now.is_valid()
    assert earlier.is_valid()
    assert now.taken_or(TAKEN) == TAKEN
    assert earlier.taken_or(TAKEN) == earlier.cleaned_data["taken_at"] != TAKEN
    assert form(cellar)["taken_at"].value() is None


@pytest.mark.parametrize("unit, shown", [("C", "28 °C"), ("F", "82.4 °F")])
def test_each_medium_says_in_the_brewerys_unit_when_a_sample_of_today_is_due(
    cellar: Cellar, unit: str, shown: str
) -> None:
    assert clock.today().isoformat() == "2026-06-17"
    cellar.brewery.temperature_unit = unit
    words = dict(form(cellar).fields["medium"].choices)
    assert words["WLN"] == (
        f"WLN: yeasts, brewing and wild. {shown}, 5 days: taken today, due Mon 22 Jun"
    )
    assert words["other"] == f"Another medium. {shown}, 7 days: taken today, due Wed 24 Jun"
    assert list(words) == [*(medium.name for medium in MEDIA), "other"]
