"""The lists of plates: which are in each, in what order, and the fills that they put at risk."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest

from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.plates.models import DishCount, Plate, PlateCorrection
from brewhygiene.plates.queries import (
    fills_at_risk,
    last_dish_at,
    plates_on_record,
    positive_lines,
    positive_plates,
    settled_plates,
    waiting_plates,
    with_dishes,
)
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW, PASSWORD, Cellar, acting, make_point, make_vessel

DAY = timedelta(days=1)
LEAST = timedelta(microseconds=1)


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


@pytest.fixture
def turnaround(cellar: Cellar) -> Turnaround:
    return cellar.emptied()


def plate(cellar: Cellar, turnaround: Turnaround, state: str = "pending", **values: Any) -> Plate:
    read = {} if state == "pending" else {"read_at": NOW + 8 * DAY, "read_by": cellar.brewer}
    return Plate.objects.create(
        **{
            "vessel": turnaround.vessel,
            "turnaround": turnaround,
            "point": turnaround.vessel.points.get(order=0),
            "medium": "MRS",
            "state": state,
            "colonies": {"negative": 0, "positive": 4}.get(state),
            "taken_at": NOW,
            "due_on": date(2026, 3, 17),
            "sent_by": cellar.hand,
            **read,
            **values,
        }
    )


def closed(cellar: Cellar, turnaround: Turnaround, **values: Any) -> Plate:
    from brewhygiene.people.signatures import sign

    signature = sign(by=acting(cellar.brewer), password=PASSWORD, meaning="Closed")
    return plate(
        cellar,
        turnaround,
        "positive",
        resolved_at=NOW + 9 * DAY,
        resolution="Cleaned hot",
        resolution_signature=signature,
        **values,
    )


def test_each_plate_is_in_one_list(cellar: Cellar, turnaround: Turnaround) -> None:
    waiting = plate(cellar, turnaround)
    negative = plate(cellar, turnaround, "negative")
    positive = plate(cellar, turnaround, "positive")
    done = closed(cellar, turnaround)
    assert list(waiting_plates()) == [waiting]
    assert list(positive_plates()) == [positive]
    assert list(settled_plates()) == [done, negative]


def test_what_is_due_first_leads_and_of_one_day_what_was_sent_first(
    cellar: Cellar, turnaround: Turnaround
) -> None:
    late, first, second = (
        plate(cellar, turnaround, due_on=date(2026, 3, day)) for day in (18, 17, 17)
    )
    assert list(waiting_plates()) == [first, second, late]


def test_the_positive_that_is_open_longest_leads_and_the_plate_read_last(
    cellar: Cellar, turnaround: Turnaround
) -> None:
    for state, plates in (("positive", positive_plates), ("negative", settled_plates)):
        late, first, second = (
            plate(cellar, turnaround, state, read_at=NOW + days * DAY) for days in (9, 8, 8)
        )
        oldest_first = [first, second, late]
        assert list(plates()) == (oldest_first if state == "positive" else oldest_first[::-1])


# ---- the fills at risk ----


def fill(cellar: Cellar, vessel: Vessel, at: datetime) -> Fill:
    return Fill.objects.create(
        vessel=vessel,
        beer=cellar.pale,
        batch=f"B-{Fill.objects.count() + 1}",
        volume_hl=20,
        filled_at=at,
        recorded_by=cellar.hand,
    )


def test_each_positive_plate_lists_the_fills_since_the_last_good_one_of_its_own_vessel(
    cellar: Cellar, turnaround: Turnaround
) -> None:
    """The list of all plates and the page of one say the same."""
    other = cellar.emptied(vessel=make_vessel())
    plate(cellar, turnaround, "negative", taken_at=NOW - 20 * DAY)
    plate(cellar, turnaround, "negative", taken_at=NOW - 9 * DAY)
    # None of these clears it: of another vessel, not read, positive itself, and taken with it.
    plate(cellar, other, "negative", taken_at=NOW - DAY)
    plate(cellar, turnaround, taken_at=NOW - DAY)
    closed(cellar, turnaround, taken_at=NOW - DAY)
    plate(cellar, turnaround, "negative", taken_at=NOW)
    bad = plate(cellar, turnaround, "positive")
    elsewhere = plate(cellar, other, "positive", taken_at=NOW - 2 * DAY)
    vessel = turnaround.vessel
    fill(cellar, vessel, NOW - 9 * DAY - LEAST)
    moment = fill(cellar, vessel, NOW - 9 * DAY)
    after = fill(cellar, vessel, NOW + DAY)
    old = fill(cellar, other.vessel, NOW - 300 * DAY)
    lines = {line.plate: list(line.at_risk) for line in positive_lines()}
    assert lines == {bad: [after, moment], elsewhere: [old]}
    for one, at_risk in lines.items():
        assert list(fills_at_risk(one)) == at_risk


# ---- dishes ----


def dish(of: Plate, **values: Any) -> DishCount:
    return DishCount.objects.create(
        **{"plate": of, "dilution": 1, "volume_ml": 1, "colonies": 3, **values}
    )


def corrected(cellar: Cellar, of: Plate) -> PlateCorrection:
    return PlateCorrection.objects.create(
        plate=of,
        was_state="positive",
        was_colonies=3,
        was_read_at=NOW,
        was_read_by=cellar.brewer,
        is_state="positive",
        is_colonies=5,
        reason="Counted again",
        corrected_at=NOW,
        corrected_by=cellar.brewer,
    )


def test_a_plate_comes_with_the_dishes_that_no_correction_replaced(
    cellar: Cellar, turnaround: Turnaround, django_assert_num_queries: Any
) -> None:
    read = plate(cellar, turnaround, "positive")
    correction = corrected(cellar, read)
    dish(read, replaced_by=correction)
    first, second = dish(read, colonies=5), dish(read, colonies=0)
    assert with_dishes(Plate.objects.all()).get().standing_dishes == [first, second]
    (on_record,) = plates_on_record(turnaround)
    with django_assert_num_queries(0):
        assert on_record.standing_dishes == [first, second]
        assert list(on_record.corrections.all()) == [correction]
    assert list(plates_on_record(cellar.emptied(vessel=make_vessel()))) == []


def test_the_next_plate_of_a_point_is_offered_the_first_dish_of_the_one_read_last(
    cellar: Cellar, turnaround: Turnaround
) -> None:
    latest = plate(cellar, turnaround, "positive", read_at=NOW + 9 * DAY)
    replaced = dish(latest, replaced_by=corrected(cellar, latest))
    first, _ = dish(latest), dish(latest)
    dish(plate(cellar, turnaround, "positive"))
    lid = make_point(cellar.vessel, order=5)
    dish(plate(cellar, turnaround, "positive", point=lid, read_at=NOW + 10 * DAY))
    waiting = plate(cellar, turnaround)
    assert replaced.pk < first.pk
    assert last_dish_at(waiting) == first
    # What is being read is not its own example.
    own = plate(cellar, turnaround, "positive", read_at=NOW + 11 * DAY)
    dish(own)
    assert last_dish_at(own) == first
    assert last_dish_at(plate(cellar, cellar.emptied(vessel=make_vessel()))) is None
