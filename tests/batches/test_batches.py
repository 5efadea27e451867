"""A batch: what a filling records, its number once, pitching it."""

from datetime import timedelta

import pytest

from brewhygiene.batches.brews import actions
from brewhygiene.batches.brews.queries import contents_of
from brewhygiene.batches.crops.actions import hold
from brewhygiene.batches.models.batches import Batch, BatchFill
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.batches.numbers import key_of
from brewhygiene.cellar.models import Fill
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from tests.batches.scenes import DAY, Brewhouse
from tests.factories import acting, make_beer


def way(movement: Movement) -> list[str]:
    return [str(touch) for touch in movement.touches.order_by("place")]


def test_filling_with_a_new_number_records_its_batch(house: Brewhouse) -> None:
    batch = house.brewed("26-100", 1, through=(house.hx, house.hose))
    fill = Fill.objects.get()
    assert (batch.number, batch.beer, batch.volume_hl) == ("26-100", house.pale, 20)
    assert batch.brewed_at == house.at(1)
    assert fill.of_batch.batch == batch
    movement = Movement.objects.get()
    assert (movement.kind, movement.volume_hl) == (MovementKind.BREW, 20)
    assert way(movement) == ["HX one", "Hose one", house.fv.name, str(fill)]
    entry = Entry.objects.filter(verb="fill vessel").get()
    assert entry.values["through"] == ["HX one", "Hose one"]
    # One entry binds the fill, its batch and its way.
    assert entry.row_count == 1 + 2 + 1 + 4 + 1


def test_filling_with_a_known_number_may_come_from_any_vessel_it_was_in(house: Brewhouse) -> None:
    batch = house.brewed("26-100", 1)
    house.ready(house.bt, 60)
    turnaround = house.bt.turnarounds.get(closed_at__isnull=True)
    house.filled(turnaround, now=house.at(60), batch=" 26-100", volume_hl=18)
    assert Batch.objects.count() == 1
    assert [link.fill.vessel for link in batch.filled.order_by("pk")] == [house.fv, house.bt]
    movement = Movement.objects.get(kind=MovementKind.UNKNOWN)
    assert movement.volume_hl is None
    first, second = Fill.objects.order_by("pk")
    assert way(movement) == [str(first), house.fv.name, "BT one", str(second)]


def test_known_number_of_another_beer_is_refused_and_nothing_is_filled(house: Brewhouse) -> None:
    house.brewed("26-100", 1)
    house.ready(house.bt, 60)
    turnaround = house.bt.turnarounds.get(closed_at__isnull=True)
    with pytest.raises(Refusal) as refused:
        house.filled(turnaround, now=house.at(60), batch="26-100", beer=make_beer())
    assert (refused.value.field, refused.value.code) == ("batch", "other_beer")
    assert (Fill.objects.count(), BatchFill.objects.count()) == (1, 1)


@pytest.mark.parametrize("again", ["B-7", "b-7", "  B-7  ", "B-7 "])
def test_batch_number_is_recorded_once_however_it_is_spelt(house: Brewhouse, again: str) -> None:
    values = {"beer": house.pale, "brewed_at": house.at(0), "volume_hl": 20}
    actions.record_batch(by=acting(house.hand), number="B-7", **values)
    with pytest.raises(Refusal) as refused:
        actions.record_batch(by=acting(house.hand), number=again, **values)
    assert (refused.value.field, refused.value.code) == ("number", "twice")
    assert [batch.number for batch in Batch.objects.all()] == ["B-7"]


def test_letters_beyond_ascii_are_compared_alike_on_every_database() -> None:
    assert key_of("BØ-7 STRASSE") == key_of("bø-7  straße")


@pytest.mark.parametrize(
    "values, field",
    [
        ({"number": " "}, "number"),
        ({"volume_hl": 0}, "volume_hl"),
        ({"brewed_at": timedelta(minutes=5)}, "brewed_at"),
        ({"brewed_at": -61 * DAY}, "brewed_at"),
    ],
)
def test_batch_that_cannot_be_is_refused_beside_its_field(
    house: Brewhouse, values: dict[str, object], field: str
) -> None:
    given = {"number": "B-1", "beer": house.pale, "brewed_at": timedelta(0), "volume_hl": 20}
    given |= values
    given["brewed_at"] = house.at(0) + given["brewed_at"]
    with pytest.raises(Refusal) as refused:
        actions.record_batch(by=acting(house.hand), **given)
    assert refused.value.field == field
    assert Batch.objects.count() == 0


def test_batch_recorded_before_its_filling_keeps_its_own_time_and_volume(
    house: Brewhouse,
) -> None:
    made = actions.record_batch(
        by=acting(house.hand, now=house.at(0)),
        number="B-9",
        beer=house.pale,
        brewed_at=house.at(-3),
        volume_hl=22,
    )
    assert house.brewed("B-9", 1) == made
    made.refresh_from_db()
    assert (made.brewed_at, made.volume_hl) == (house.at(-3), 22)
    assert Movement.objects.get().kind == MovementKind.BREW


# --- pitching ---


def test_pitching_says_which_crop_went_into_which_batch(house: Brewhouse) -> None:
    crop = house.bought()
    batch = house.brewed("26-100", 1)
    movement = house.pitched(crop, 2)
    fill = Fill.objects.get()
    assert (movement.kind, movement.from_crop, movement.to_fill) == ("pitch", crop, fill)
    assert way(movement) == ["Y-0", str(fill), house.fv.name]
    assert Entry.objects.get(verb="pitch yeast").values["batch"] == batch.number


def test_held_crop_is_never_pitched(house: Brewhouse) -> None:
    crop = house.bought()
    house.brewed("26-100", 1)
    made = hold(by=acting(house.hand, now=house.at(1)), subject=crop, reason="Smells of solvent")
    with pytest.raises(Refusal) as refused:
        house.pitched(crop, 2)
    assert (refused.value.field, refused.value.code) == ("crop", "held")
    assert "Smells of solvent" in refused.value.message
    house.ruled(made, "hold", 3)
    with pytest.raises(Refusal) as refused:
        house.pitched(crop, 4)
    assert refused.value.code == "held"
    house.ruled(made, "release", 5)
    assert house.pitched(crop, 6).from_crop == crop


def test_destroyed_crop_is_never_pitched_again(house: Brewhouse) -> None:
    crop = house.bought()
    house.brewed("26-100", 1)
    made = hold(by=acting(house.hand, now=house.at(1)), subject=crop, reason="Grey")
    house.ruled(made, "destroy", 2)
    with pytest.raises(Refusal) as refused:
        house.pitched(crop, 3)
    assert (refused.value.field, refused.value.code) == ("crop", "gone")


def test_pitching_into_an_empty_vessel_is_refused(house: Brewhouse) -> None:
    crop = house.bought()
    with pytest.raises(Refusal) as refused:
        house.pitched(crop, 2)
    assert (refused.value.field, refused.value.code) == ("vessel", "empty")


def test_fill_from_before_batches_were_recorded_says_so(house: Brewhouse) -> None:
    crop = house.bought()
    Fill.objects.create(
        vessel=house.fv,
        beer=house.pale,
        batch="old",
        volume_hl=20,
        filled_at=house.at(0),
        recorded_by=house.hand,
    )
    with pytest.raises(Refusal) as refused:
        house.pitched(crop, 2)
    assert (refused.value.field, refused.value.code) == ("vessel", "no_batch")


def test_crop_is_not_pitched_before_it_came(house: Brewhouse) -> None:
    house.brewed("26-100", 1)
    crop = house.bought(hours=5)
    with pytest.raises(Refusal) as refused:
        actions.pitch(
            by=acting(house.hand, now=house.at(6)),
            vessel=house.fv,
            crop=crop,
            pitched_at=house.at(4),
        )
    assert refused.value.field == "pitched_at"


def test_no_more_of_a_crop_is_pitched_than_there_is(house: Brewhouse) -> None:
    crop = house.bought(volume_hl=0.2)
    house.brewed("26-100", 1)
    house.pitched(crop, 2)
    house.pitched(crop, 3)
    with pytest.raises(Refusal) as refused:
        house.pitched(crop, 4)
    assert (refused.value.field, refused.value.code) == ("volume_hl", "unbalanced")


def test_yeast_never_goes_back_into_what_it_comes_from(house: Brewhouse) -> None:
    """A crop of B1, pitched into B2; a crop of B2 pitched into B1 closes a circle."""
    house.brewed("B1", 1)
    house.pitched(house.bought(), 2)
    first = house.cropped("Y-1", 30)
    with pytest.raises(Refusal) as refused:
        house.pitched(first, 31)
    assert (refused.value.field, refused.value.code) == ("crop", "circle")
    house.brewed("B2", 40, vessel=house.fv_2)
    house.pitched(first, 41, vessel=house.fv_2)
    second = house.cropped("Y-2", 90, source=house.fv_2)
    assert second.generation == 2
    with pytest.raises(Refusal) as refused:
        house.pitched(second, 91)
    assert (refused.value.field, refused.value.code) == ("crop", "circle")


def test_record_says_the_batch_of_a_fill_and_the_yeast_pitched_into_it(house: Brewhouse) -> None:
    house.brewed("26-100", 1)
    house.pitched(house.bought(), 2)
    house.pitched(house.bought("Y-9", generation=3), 3)
    fill = Fill.objects.get()
    before = Fill.objects.create(
        vessel=house.bt,
        beer=house.pale,
        batch="old",
        volume_hl=20,
        filled_at=house.at(0),
        recorded_by=house.hand,
    )
    nothing, old, contents = contents_of(None, before, fill)
    assert (nothing, old) == (None, None)
    day = house.at(1)
    assert contents.words == (
        f"26-100, brewed {day.day} {day:%b %Y}, yeast Y-0, generation 0, yeast Y-9, generation 3"
    )
