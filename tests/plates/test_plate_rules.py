"""What a plate refuses when it is sent, read and closed, at both sides of each bound."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.plates import actions
from brewhygiene.plates.closing.actions import resolve_plate
from brewhygiene.plates.corrections.actions import correct_plate
from brewhygiene.plates.models import DishCount, Plate, PlateCorrection
from brewhygiene.plates.queries import fills_at_risk
from brewhygiene.plates.seen import checked_reading
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.science.counting.colonies import Dish
from brewhygiene.turnarounds.models import Turnaround
from tests.evidence import unguarded
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    made_good,
    make_point,
    make_vessel,
)

DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)
SENT = NOW + timedelta(minutes=35)


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


def refusal_of(call: Callable[[], Any]) -> tuple[str | None, str]:
    with pytest.raises(Refusal) as refused:
        call()
    return refused.value.field, refused.value.code


def unwritten(call: Callable[[], Any]) -> tuple[str | None, str]:
    """Field and code of a refusal, having made sure that nothing was written."""
    before = Entry.objects.count()
    found = refusal_of(call)
    assert Entry.objects.count() == before
    return found


def send(cellar: Cellar, turnaround: Turnaround, **values: Any) -> Plate:
    user = values.pop("user", cellar.hand)
    return actions.send_plate(
        by=acting(user, now=SENT),
        turnaround=turnaround,
        **{
            "point": cellar.point,
            "medium": "MRS",
            "neutraliser": "thiosulfate",
            "incubation_c": 28,
            "incubation_days": 7,
            **values,
        },
    )


def read(cellar: Cellar, plate: Plate, **values: Any) -> Plate:
    user, after = values.pop("user", cellar.brewer), values.pop("after", 8 * DAY)
    return actions.read_plate(by=acting(user, now=NOW + after), plate=plate, **values)


# ---- sending ----


@pytest.mark.parametrize(
    "values, field",
    [
        ({"medium": "  "}, "medium"),
        ({"incubation_c": 3.9}, "incubation_c"),
        ({"incubation_c": 60.1}, "incubation_c"),
        ({"incubation_days": 0}, "incubation_days"),
        ({"incubation_days": 31}, "incubation_days"),
        ({"taken_at": NOW + DAY}, "taken_at"),
        ({"suspension_ml": 10}, "suspension_ml"),
        ({"area_cm2": 10}, "area_cm2"),
    ],
    ids=str,
)
def test_a_plate_is_refused_beside_what_cannot_be(
    cellar: Cellar, values: dict[str, Any], field: str
) -> None:
    turnaround = cellar.cleaned()
    assert unwritten(lambda: send(cellar, turnaround, **values)) == (field, "refused")


@pytest.mark.parametrize("celsius, days", [(4, 1), (60, 30)])
def test_a_plate_is_sent_at_the_bounds_of_its_incubation(
    cellar: Cellar, celsius: float, days: int
) -> None:
    plate = send(
        cellar, cellar.cleaned(), incubation_c=celsius, incubation_days=days, medium=" WLN "
    )
    assert (plate.incubation_c, plate.incubation_days, plate.medium) == (celsius, days, "WLN")
    assert plate.due_on == date(2026, 3, 10) + days * DAY
    assert (plate.sent_by, plate.taken_at, plate.state) == (cellar.hand, SENT, "pending")
    values = Entry.objects.order_by("pk").last().values
    assert "suspension_ml" not in values


def test_a_plate_is_of_a_point_of_this_vessel_and_is_cellar_work(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    elsewhere = make_point(make_vessel(points=0))
    assert unwritten(lambda: send(cellar, turnaround, point=elsewhere)) == ("point", "refused")
    with pytest.raises(NotAllowed):
        send(cellar, turnaround, user=cellar.owner)


@pytest.mark.parametrize(
    "suspension_ml, area_cm2, field",
    [
        (0.1, 1, None),
        (10_000, 10_000, None),
        (0.09, 25, "suspension_ml"),
        (10_001, 25, "suspension_ml"),
        (10, 0.9, "area_cm2"),
        (10, 10_001, "area_cm2"),
        (None, 25, "suspension_ml"),
    ],
)
def test_a_swab_is_taken_up_and_stands_for_an_area_within_bounds(
    cellar: Cellar, suspension_ml: float | None, area_cm2: float, field: str | None
) -> None:
    turnaround = cellar.cleaned()
    wall = make_point(cellar.vessel, sample_kind="surface", order=5)
    swab = {"point": wall, "suspension_ml": suspension_ml, "area_cm2": area_cm2}
    if field is not None:
        assert unwritten(lambda: send(cellar, turnaround, **swab)) == (field, "refused")
        return
    plate = send(cellar, turnaround, **swab)
    assert (plate.suspension_ml, plate.area_cm2) == (suspension_ml, area_cm2)
    values = Entry.objects.order_by("pk").last().values
    assert (values["suspension_ml"], values["area_cm2"]) == (suspension_ml, area_cm2)


def test_a_swabs_area_is_the_points_own_where_none_is_given(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    wall = make_point(cellar.vessel, sample_kind="surface", order=5, area_cm2=25)
    bare = make_point(cellar.vessel, sample_kind="surface", order=6)
    assert send(cellar, turnaround, point=wall, suspension_ml=10).area_cm2 == 25
    assert send(cellar, turnaround, point=wall, suspension_ml=10, area_cm2=50).area_cm2 == 50
    plain = send(cellar, turnaround, point=wall)
    assert (plain.suspension_ml, plain.area_cm2) == (None, None)
    refused = unwritten(lambda: send(cellar, turnaround, point=bare, suspension_ml=10))
    assert refused == ("area_cm2", "refused")


# ---- what was seen ----


def seen(**values: Any) -> tuple[str, int | None]:
    found = checked_reading(
        **{
            "state": "",
            "colonies": None,
            "too_many": False,
            "organism": "",
            "dishes": (),
            **values,
        }
    )
    return found.state, found.colonies


@pytest.mark.parametrize(
    "values, found",
    [
        ({"state": "negative"}, ("negative", 0)),
        ({"state": "negative", "colonies": 0}, ("negative", 0)),
        ({"state": "positive", "colonies": 1}, ("positive", 1)),
        ({"state": "positive", "too_many": True}, ("positive", None)),
        ({"state": "positive", "colonies": 0, "too_many": True}, ("positive", None)),
        ({"dishes": [Dish(1, 1, 0)]}, ("negative", 0)),
        ({"state": "negative", "dishes": [Dish(1, 1, 0)]}, ("negative", 0)),
        ({"dishes": [Dish(1, 1, 1)]}, ("positive", 1)),
        ({"state": "positive", "dishes": [Dish(1, 1, 2), Dish(10, 1, 0)]}, ("positive", 2)),
        ({"dishes": [Dish(1, 1, None), Dish(10, 1, 40)]}, ("positive", 40)),
        ({"dishes": [Dish(1, 1, None)]}, ("positive", None)),
        ({"dishes": [Dish(1, 1, 0)] * 24}, ("negative", 0)),
    ],
    ids=str,
)
def test_checked_reading_gives_a_state_and_a_number(
    values: dict[str, Any], found: tuple[str, int | None]
) -> None:
    assert seen(**values) == found


@pytest.mark.parametrize(
    "values, field",
    [
        ({}, "state"),
        ({"state": "pending"}, "state"),
        ({"state": "positive"}, "colonies"),
        ({"state": "positive", "colonies": 0}, "colonies"),
        ({"state": "positive", "colonies": 1, "too_many": True}, "colonies"),
        ({"state": "negative", "colonies": 1}, "state"),
        ({"state": "negative", "too_many": True}, "state"),
        ({"state": "negative", "dishes": [Dish(1, 1, 1)]}, "state"),
        ({"state": "negative", "dishes": [Dish(1, 1, None)]}, "state"),
        ({"state": "positive", "dishes": [Dish(1, 1, 0)]}, "colonies"),
        ({"dishes": [Dish(1, 0, 1)]}, "colonies"),
        ({"dishes": [Dish(1, 1, 0)] * 25}, None),
    ],
    ids=str,
)
def test_what_contradicts_itself_was_not_seen(values: dict[str, Any], field: str | None) -> None:
    assert refusal_of(lambda: seen(**values)) == (field, "refused")


def test_an_organism_keeps_a_hundred_letters() -> None:
    found = checked_reading(
        state="positive", colonies=1, too_many=False, organism=f" {'x' * 150} ", dishes=()
    )
    assert found.organism == "x" * 100


# ---- reading and closing ----


def test_a_plate_is_negative_from_its_day_on(cellar: Cellar) -> None:
    plate = send(cellar, cellar.released())
    eve = 7 * DAY - timedelta(hours=9, microseconds=1)
    early = unwritten(lambda: read(cellar, plate, state="negative", after=eve))
    assert early == ("state", "too_early")
    done = read(cellar, plate, state="negative", after=7 * DAY - timedelta(hours=9))
    assert (done.state, done.colonies, done.read_by) == ("negative", 0, cellar.brewer)
    assert unwritten(lambda: read(cellar, plate, state="negative")) == (None, "already_read")
    assert Entry.objects.order_by("pk").last().values["fills_at_risk"] == []


def test_each_verb_of_a_plate_makes_an_earlier_look_stale(cellar: Cellar) -> None:
    def revision() -> int:
        return Turnaround.objects.get().revision

    turnaround = cellar.released()
    before = revision()
    plate = send(cellar, turnaround)
    assert revision() == before + 1
    read(cellar, plate, state="positive", colonies=4, organism="rods")
    assert revision() == before + 2
    correct(cellar, plate, state="positive", colonies=5)
    assert revision() == before + 3
    close(cellar, plate, **made_good(plate, now=NOW + 9 * DAY + MINUTE))
    assert revision() == before + 4


def close(cellar: Cellar, plate: Plate, **values: Any) -> Plate:
    user = values.pop("user", cellar.brewer)
    return resolve_plate(
        by=acting(user, now=NOW + 9 * DAY + MINUTE),
        plate=plate,
        **{"resolution": " Cleaned hot ", "password": PASSWORD, **values},
    )


def test_only_an_open_positive_plate_is_closed_with_what_was_done(cellar: Cellar) -> None:
    plate = send(cellar, cellar.released())
    assert unwritten(lambda: close(cellar, plate)) == (None, "not_open")
    read(cellar, plate, state="positive", colonies=4)
    made = made_good(plate, now=NOW + 9 * DAY + MINUTE)
    refused = unwritten(lambda: close(cellar, plate, resolution=" ", **made))
    assert refused == ("resolution", "refused")
    with pytest.raises(NotAllowed):
        close(cellar, plate, user=cellar.hand, **made)
    closed = close(cellar, plate, **made)
    assert (closed.resolution, closed.resolved_at) == ("Cleaned hot", NOW + 9 * DAY + MINUTE)
    assert unwritten(lambda: close(cellar, plate, **made)) == (None, "not_open")


def correct(cellar: Cellar, plate: Plate, **values: Any) -> PlateCorrection:
    return correct_plate(
        by=acting(cellar.brewer, now=NOW + 9 * DAY),
        plate=plate,
        **{"reason": f" {'x' * 300} ", **values},
    )


def test_a_correction_says_something_else_and_why(cellar: Cellar) -> None:
    plate = send(cellar, cellar.released())
    assert unwritten(lambda: correct(cellar, plate, state="negative")) == (None, "not_read")
    read(cellar, plate, dishes=[Dish(1, 1, 4)], organism="rods")
    same = {"dishes": [Dish(1, 1, 4)], "organism": "rods"}
    assert unwritten(lambda: correct(cellar, plate, **same)) == (None, "same")
    assert unwritten(lambda: correct(cellar, plate, **same, reason=" ")) == ("reason", "refused")
    for other in (
        {"dishes": [Dish(1, 1, 4)], "organism": "cocci"},
        {"dishes": [Dish(1, 2, 4)], "organism": "cocci"},
        {"state": "positive", "colonies": 4, "organism": "cocci"},
    ):
        correction = correct(cellar, plate, **other)
        assert (correction.reason, correction.signature) == ("x" * 200, None)
        values = Entry.objects.order_by("pk").last().values
        assert values["fills_at_risk"] == []
        assert ("dishes" in values) == ("dishes" in other)
    assert DishCount.objects.filter(replaced_by__isnull=True).count() == 0
    assert [c.was_organism for c in PlateCorrection.objects.order_by("pk")] == [
        "rods",
        "cocci",
        "cocci",
    ]


def test_only_a_correction_that_makes_a_plate_positive_names_the_fills_at_risk(
    cellar: Cellar,
) -> None:
    turnaround = cellar.released()
    plate = send(cellar, turnaround)
    fill = cellar.filled(turnaround)
    read(cellar, plate, state="negative")
    named = []
    for seen in (
        {"state": "negative", "organism": "dust"},
        {"state": "positive", "colonies": 4},
        {"state": "positive", "colonies": 5},
    ):
        correct(cellar, plate, **seen)
        named.append(Entry.objects.order_by("pk").last().values["fills_at_risk"])
    assert named == [[], [str(fill)], []]


def test_the_fills_at_risk_are_those_since_the_last_good_plate_of_the_vessel(
    cellar: Cellar,
) -> None:
    first = cellar.released()
    oldest, good = send(cellar, first, taken_at=NOW), send(cellar, first)
    fill = cellar.filled(first)
    read(cellar, oldest, state="negative")
    read(cellar, good, state="negative")
    second = cellar.released(now=NOW + 10 * DAY)
    bad = actions.send_plate(
        by=acting(cellar.hand, now=NOW + 10 * DAY + timedelta(hours=1)),
        turnaround=second,
        point=cellar.point,
        medium="MRS",
        neutraliser="thiosulfate",
        incubation_c=28,
        incubation_days=7,
    )
    after = cellar.filled(second, now=NOW + 10 * DAY + timedelta(hours=2))
    assert list(fills_at_risk(bad)) == [after, fill]
    take(good, fill.filled_at)
    # Filled in the moment of the good sample: it does not clear it.
    assert list(fills_at_risk(bad)) == [after, fill]
    take(good, fill.filled_at + timedelta(microseconds=1))
    assert list(fills_at_risk(bad)) == [after]
    take(good, bad.taken_at)
    # Taken with it, so it says nothing of what was before; the oldest one does.
    assert list(fills_at_risk(bad)) == [after, fill]


def take(plate: Plate, at: datetime) -> None:
    with unguarded(Plate):
        Plate.objects.filter(pk=plate.pk).update(taken_at=at)
