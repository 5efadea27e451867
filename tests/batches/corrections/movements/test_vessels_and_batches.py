"""A movement with the wrong vessel at its end, or of the wrong batch."""

from typing import Any

import pytest

from brewhygiene.batches.brews.actions import record_batch
from brewhygiene.batches.brews.balance import balance_of
from brewhygiene.batches.brews.queries import left_in
from brewhygiene.batches.crops.actions import hold
from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.holds import Hold
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import Movement
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.release.queries import state_of
from brewhygiene.turnarounds.models import Turnaround
from tests.batches.corrections.movements.acts import corrected, refused_with, the
from tests.batches.scenes import Brewhouse
from tests.batches.test_batches import way
from tests.batches.test_dumps import dumped
from tests.factories import acting, make_beer


def batch_in(vessel: Vessel) -> str:
    """What its last fill is on record as, on both tables."""
    fill = Fill.objects.filter(vessel=vessel).order_by("-filled_at").first()
    assert fill is not None
    number: str = fill.of_batch.batch.number
    assert number == fill.batch
    return number


def differences() -> set[float]:
    return {balance_of(batch).difference_hl for batch in Batch.objects.all()}


@pytest.fixture
def two(house: Brewhouse) -> Brewhouse:
    """B1 in FV and B2 in FV two; 12 hL of B1 went into BT, it was recorded; 3 hL packaged."""
    house.brewed("B1", 1)
    house.brewed("B2", 2, vessel=house.fv_2)
    house.moved(house.fv, house.bt, 50, volume_hl=12, through=(house.hose,))
    house.packaged("L-1", house.bt, 60)
    return house


def test_other_source_brings_its_batch_and_all_that_came_of_it(two: Brewhouse) -> None:
    done = corrected(two, the("transfer"), vessel=two.fv_2)
    move, target = the("transfer"), Fill.objects.get(vessel=two.bt)
    assert move.from_fill == Fill.objects.get(vessel=two.fv_2)
    assert way(move) == [str(move.from_fill), "FV two", "Hose one", "BT one", str(target)]
    assert batch_in(two.bt) == "B2"
    assert Lot.objects.get().batch.number == "B2"
    assert left_in(Fill.objects.get(vessel=two.fv)) == 20
    assert left_in(move.from_fill) == 8
    assert [balance_of(b).packaged for b in Batch.objects.order_by("number")] == [0, 3]
    assert differences() == {0}
    assert done.was_batch == Batch.objects.get(number="B1")
    assert [name for name, _, _ in done.changed] == ["from", "from_batch", "batch"]


@pytest.mark.parametrize(
    "values, answer",
    [
        ({"vessel": "bt_2"}, ("vessel", "empty")),
        ({"vessel": "bt"}, ("vessel", "circle")),
        ({"vessel": "fv_2", "at": 1.5}, ("vessel", "empty")),
        ({"vessel": "fv_2", "volume_hl": 20.5}, ("vessel", "unbalanced")),
        ({"to_vessel": "bt_2"}, ("to_vessel", "not_released")),
        ({"to_vessel": "fv"}, ("to_vessel", "circle")),
        ({"to_vessel": "fv_2"}, ("to_vessel", "not_released")),
        ({"batch": "B7"}, ("batch", "unknown")),
    ],
)
def test_what_contradicts_is_refused_beside_its_field(
    two: Brewhouse, values: dict[str, Any], answer: tuple[str, str]
) -> None:
    given = {
        name: getattr(two, value) if name.endswith("vessel") else value
        for name, value in values.items()
    }
    assert refused_with(two, the("transfer"), **given) == answer


def test_vessel_that_was_marked_empty_by_it_stays_its_source(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.brewed("B2", 2, vessel=house.fv_2)
    house.moved(house.fv, house.bt, 50, volume_hl=20, empties=True)
    found = refused_with(house, the("transfer"), vessel=house.fv_2)
    assert found == ("vessel", "unbalanced")


def test_other_target_fills_that_vessel_and_frees_the_first(two: Brewhouse) -> None:
    two.ready(two.bt_2, 50)
    packaged = the("package")
    corrected(two, the("transfer"), to_vessel=two.bt_2)
    fill = the("transfer").to_fill
    assert fill.vessel == two.bt_2
    assert not Fill.objects.filter(vessel=two.bt).exists()
    assert Turnaround.objects.get(closing_fill=fill).vessel == two.bt_2
    assert two.bt.turnarounds.filter(closed_at__isnull=True).count() == 1
    assert state_of(two.bt, now=two.at(50.2)).status.code == "released"
    assert state_of(two.bt_2, now=two.at(61)).status.code == "in_use"
    # What was packaged came out of that vessel too.
    assert way(packaged) == [str(fill), "BT two", "L-1"]
    assert way(the("transfer"))[2:] == ["Hose one", "BT two", str(fill)]
    assert not two.bt.touches.exists()
    assert differences() == {0}


def test_target_that_was_cleaned_since_or_emptied_since_is_refused(two: Brewhouse) -> None:
    two.ready(two.bt_2, 62)
    found = refused_with(two, the("transfer"), to_vessel=two.bt_2)
    assert found == ("to_vessel", "not_released")
    two.emptied(vessel=two.bt, now=two.at(70), beer=None)
    found = refused_with(two, the("transfer"), to_vessel=two.bt_2)
    assert found == ("to_vessel", "emptied")


def test_dump_and_packaging_of_another_vessel(two: Brewhouse) -> None:
    made = dumped(two, two.fv, 70, volume_hl=4)
    corrected(two, made.movement, vessel=two.fv_2)
    assert [balance_of(b).dumped for b in Batch.objects.order_by("number")] == [0, 4]
    corrected(two, the("package"), vessel=two.fv_2)
    assert Lot.objects.get().batch.number == "B2"
    assert way(the("package")) == [str(Fill.objects.get(vessel=two.fv_2)), "FV two", "L-1"]
    assert differences() == {0}


def test_dump_of_a_held_batch_by_correction_needs_its_decision(two: Brewhouse) -> None:
    made = dumped(two, two.fv, 70, volume_hl=4)
    b2 = Batch.objects.get(number="B2")
    hold(by=acting(two.hand, now=two.at(65)), subject=b2, reason="Smells")
    assert refused_with(two, made.movement, vessel=two.fv_2) == ("vessel", "held")
    decision = two.ruled(Hold.objects.get(batch=b2), "destroy", 69)
    assert refused_with(two, made.movement, vessel=two.fv_2, at=68.9) == ("vessel", "held")
    corrected(two, made.movement, vessel=two.fv_2)
    made.refresh_from_db()
    assert made.decision == decision


# --- of another batch ---


def test_filling_under_the_wrong_number_is_moved_with_all_that_came_of_it(
    house: Brewhouse,
) -> None:
    """FV was filled with B2, recorded as B1; it went on into BT, a lot and a crop."""
    house.brewed("B1", 1)
    house.brewed("B2", 2, vessel=house.fv_2)
    house.cropped("Y-1", 40, vessel=house.yv, generation=1)
    house.moved(house.fv, house.bt, 50, volume_hl=12)
    house.packaged("L-1", house.bt, 60)
    done = corrected(house, the("brew", to_fill__vessel=house.fv), batch=" b2 ", at=2.5)
    assert {batch_in(one) for one in (house.fv, house.fv_2, house.bt, house.yv)} == {"B2"}
    assert Lot.objects.get().batch.number == "B2"
    assert YeastCrop.objects.get().cropped_from.number == "B2"
    b1 = Batch.objects.get(number="B1")
    assert (b1.volume_hl, b1.filled.count(), done.was_batch) == (0, 0, b1)
    assert balance_of(b1).difference_hl == 0
    # It may come from the vessel that B2 was in before, as if it had been recorded so.
    moved = Movement.objects.get(to_fill__vessel=house.fv)
    assert (moved.kind, moved.from_fill.vessel, moved.volume_hl) == ("unknown", house.fv_2, None)
    fills = [str(Fill.objects.get(vessel=one)) for one in (house.fv_2, house.fv)]
    assert way(moved) == [fills[0], "FV two", house.fv.name, fills[1]]


def test_filling_recorded_as_a_batch_of_another_vessel_is_no_longer_from_there(
    house: Brewhouse,
) -> None:
    """FV two was filled with B2, which was recorded before, typed as B1 that was in FV."""
    b1 = house.brewed("B1", 1)
    by = acting(house.hand, now=house.at(5))
    record_batch(by=by, number="B2", beer=house.pale, brewed_at=house.at(5), volume_hl=20)
    house.brewed("B1", 6, vessel=house.fv_2)
    unknown = the("unknown")
    assert unknown.from_fill.vessel == house.fv
    corrected(house, unknown, batch="B2")
    unknown.refresh_from_db()
    assert (unknown.kind, unknown.from_fill, unknown.volume_hl) == ("brew", None, 20)
    fill = Fill.objects.get(vessel=house.fv_2)
    assert way(unknown) == ["FV two", str(fill), str(fill), str(fill)]
    assert not house.fv.touches.filter(movement=unknown).exists()
    b1.refresh_from_db()
    assert (b1.volume_hl, differences()) == (20, {0})


def test_what_may_come_from_several_vessels_follows_none_of_them(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.brewed("B1", 2, vessel=house.fv_2)
    house.brewed("B1", 3, vessel=house.bt_2)
    house.brewed("B9", 0.5, vessel=house.bt)
    assert Movement.objects.filter(to_fill__vessel=house.bt_2, kind="unknown").count() == 2
    corrected(house, the("unknown", to_fill__vessel=house.fv_2), batch="B9")
    assert [batch_in(one) for one in (house.fv, house.fv_2, house.bt_2)] == ["B1", "B9", "B1"]
    sources = Movement.objects.filter(to_fill__vessel=house.bt_2).order_by("pk")
    assert [(one.kind, str(one.from_fill and one.from_fill.vessel)) for one in sources] == [
        ("unknown", str(house.fv.name)),
        ("void", "None"),
    ]
    taken_back = sources.last()
    assert taken_back is not None
    assert not taken_back.touches.filter(vessel=house.fv_2).exists()


def test_batch_that_comes_of_the_filling_by_a_blend_is_no_batch_for_it(house: Brewhouse) -> None:
    house.brewed("B0", 0.5, vessel=house.fv_2)
    house.brewed("B1", 1)
    house.moved(house.fv, house.bt, 50, volume_hl=10, batch="B3")
    house.moved(house.bt, house.bt_2, 60, volume_hl=5, batch="B0")
    brew = the("brew", to_fill__vessel=house.fv)
    assert refused_with(house, brew, batch="B0") == ("batch", "circle")
    into_b0 = the("transfer", to_fill__vessel=house.bt_2)
    assert refused_with(house, into_b0, batch="B1") == ("batch", "circle")


def test_batch_that_comes_of_the_filling_by_yeast_is_no_batch_for_it(house: Brewhouse) -> None:
    house.brewed("B0", 0.5, vessel=house.fv_2)
    house.brewed("B1", 1)
    house.pitched(house.cropped("Y-1", 30, generation=1), 40, vessel=house.fv_2)
    brew = the("brew", to_fill__vessel=house.fv)
    assert refused_with(house, brew, batch="B0") == ("batch", "circle")
    # Nor is a batch that gave the yeast.
    crop = house.cropped("Y-2", 41, source=house.fv_2)
    house.brewed("B7", 50, vessel=house.bt)
    house.pitched(crop, 51, vessel=house.bt)
    brew = the("brew", to_fill__vessel=house.bt)
    assert refused_with(house, brew, batch="B0") == ("batch", "circle")


def test_batch_that_was_brewed_later_or_destroyed_is_no_batch_for_it(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.brewed("B2", 2, vessel=house.fv_2)
    brew = the("brew", to_fill__vessel=house.fv)
    assert refused_with(house, brew, batch="B2") == ("batch", "too_early")
    b2 = Batch.objects.get(number="B2")
    hold(by=acting(house.hand, now=house.at(65)), subject=b2, reason="Smells")
    house.ruled(Hold.objects.get(batch=b2), "destroy", 69)
    assert refused_with(house, brew, batch="B2", at=2.5) == ("batch", "gone")


def test_batch_of_other_beer_brings_its_beer_and_is_held_for_what_crossed_over(
    house: Brewhouse,
) -> None:
    milk = make_beer(name="Milk stout", allergens=["milk"])
    house.brewed("B0", 0.5, vessel=house.fv_2)
    house.brewed("M1", 1, beer=milk)
    house.brewed("M2", 30, beer=milk)
    brew = Movement.objects.get(to_fill__of_batch__batch__number="M2")
    corrected(house, brew, batch="B0")
    fill = Fill.objects.get(vessel=house.fv, of_batch__batch__number="B0")
    assert (fill.beer, fill.batch) == (house.pale, "B0")
    assert not BatchFill.objects.filter(batch__number="M2").exists()
    (held,) = Hold.objects.filter(batch__number="B0")
    assert held.reason.startswith(f"{house.fv.name} carried ")
    assert "Milk stout" in held.reason
