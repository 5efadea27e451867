"""A movement that was typed with the wrong volume or time: corrected, signed, and balanced."""

from typing import Any

import pytest

from brewhygiene.batches.brews.actions import record_batch
from brewhygiene.batches.brews.balance import balance_of
from brewhygiene.batches.brews.queries import left_in
from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import Movement
from brewhygiene.batches.transfers.actions import Drawn
from brewhygiene.cellar.models import Fill
from brewhygiene.ledger.adoption import bind_unbound
from brewhygiene.ledger.check.whole import check_everything
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed
from brewhygiene.turnarounds.models import Turnaround
from tests.batches.corrections.movements.acts import corrected, refused_with, the
from tests.batches.scenes import Brewhouse
from tests.batches.test_batches import way
from tests.batches.test_dumps import dumped
from tests.factories import acting, make_user


@pytest.fixture
def moved(house: Brewhouse) -> Movement:
    """20 hL of B1 brewed at 1, of which 12 went into the bright tank at 50, 3 packaged at 60."""
    house.brewed("B1", 1)
    house.moved(house.fv, house.bt, 50, volume_hl=12, through=(house.hose,))
    house.packaged("L-1", house.bt, 60)
    return the("transfer")


def test_volume_is_corrected_and_the_old_one_stands_beside(
    house: Brewhouse, moved: Movement
) -> None:
    done = corrected(house, moved, volume_hl=10, loss_hl=1, loss_reason=" Trub ")
    moved.refresh_from_db()
    assert (moved.volume_hl, moved.loss_hl, moved.loss_reason) == (10, 1, "Trub")
    assert Fill.objects.get(vessel=house.bt).volume_hl == 10
    assert left_in(Fill.objects.get(vessel=house.fv)) == 9
    assert [(name, was, became) for name, was, became in done.changed] == [
        ("volume_hl", 12, 10),
        ("loss_hl", 0, 1),
        ("loss_reason", "", "Trub"),
    ]
    assert (done.reason, done.signature.user) == ("Read off the wrong line", house.hand)
    found = balance_of(Batch.objects.get())
    assert (found.in_vessels, found.packaged, found.lost, found.difference_hl) == (16, 3, 1, 0)
    values = Entry.objects.get(verb="correct movement").values
    assert (values["was"]["volume_hl"], values["became"]["volume_hl"]) == (12, 10)


def test_time_is_corrected_wherever_it_stands(house: Brewhouse, moved: Movement) -> None:
    first = way(moved)
    # Released at 49.3 or so, 45 minutes before the filling; the packaging is at 60.
    corrected(house, moved, at=55.5)
    moved.refresh_from_db()
    fill = Fill.objects.get(vessel=house.bt)
    assert moved.moved_at == fill.filled_at == house.at(55.5)
    assert {touch.moved_at for touch in moved.touches.all()} == {house.at(55.5)}
    assert way(moved) == first
    assert Turnaround.objects.get(closing_fill=fill).closed_at == house.at(55.5)
    assert Batch.objects.get().brewed_at == house.at(1)


def test_time_to_the_minute_is_the_same_time(house: Brewhouse, moved: Movement) -> None:
    shorn = moved.moved_at.replace(second=0, microsecond=0)
    corrected(house, moved, moved_at=shorn, volume_hl=11)
    moved.refresh_from_db()
    assert moved.moved_at == house.at(50)


@pytest.mark.parametrize(
    "values, answer",
    [
        ({}, (None, "same")),
        ({"volume_hl": 12, "loss_hl": 0}, (None, "same")),
        ({"volume_hl": 11, "reason": " "}, ("reason", "refused")),
        ({"volume_hl": 11, "password": "wrong"}, ("password", "bad_password")),
        ({"volume_hl": 11, "password": ""}, ("password", "no_password")),
        ({"volume_hl": 0}, ("volume_hl", "refused")),
        ({"loss_hl": -1}, ("loss_hl", "refused")),
        ({"loss_hl": 1}, ("loss_reason", "refused")),
        ({"volume_hl": 20.4}, None),  # with the 2 % that a transfer has
        ({"volume_hl": 20.41}, ("volume_hl", "unbalanced")),
        ({"volume_hl": 19.4, "loss_hl": 1.01, "loss_reason": "x"}, ("volume_hl", "unbalanced")),
        ({"volume_hl": 31}, ("volume_hl", "unbalanced")),
        ({"volume_hl": 2.95}, None),  # 3 hL went on out of it
        ({"volume_hl": 2.9}, ("volume_hl", "unbalanced")),
        ({"at": 0.9}, ("moved_at", "empty")),  # before the fermenter was filled
        ({"at": 60.5}, ("moved_at", "too_late")),  # after it was packaged
        ({"at": 60}, None),
        ({"at": 201}, ("moved_at", "refused")),  # in the future
        ({"at": 40}, ("moved_at", "not_released")),  # before the bright tank was released
    ],
)
def test_what_contradicts_is_refused_beside_its_field(
    house: Brewhouse, moved: Movement, values: dict[str, Any], answer: tuple[str, str] | None
) -> None:
    if answer is None:
        assert corrected(house, moved, **values).pk
    else:
        assert refused_with(house, moved, **values) == answer


def test_time_after_the_source_was_emptied_is_refused(house: Brewhouse, moved: Movement) -> None:
    house.emptied(vessel=house.fv, now=house.at(55), beer=None)
    assert refused_with(house, moved, at=56) == ("moved_at", "empty")
    assert corrected(house, moved, at=54).pk


def test_emptied_vessel_that_was_accounted_for_stays_so(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.moved(house.fv, house.bt, 50, volume_hl=20, empties=True)
    moved = the("transfer")
    assert refused_with(house, moved, volume_hl=19.5) == ("volume_hl", "unbalanced")
    assert corrected(house, moved, volume_hl=19.6).pk
    assert corrected(house, moved, volume_hl=18, loss_hl=2, loss_reason="Trub").pk


def test_brewing_takes_its_batch_along(house: Brewhouse, moved: Movement) -> None:
    brew = the("brew")
    assert refused_with(house, brew, volume_hl=11.7) == ("volume_hl", "unbalanced")
    assert refused_with(house, brew, at=50.5) == ("moved_at", "too_late")
    assert refused_with(house, brew, volume_hl=31) == ("volume_hl", "refused")
    corrected(house, brew, volume_hl=22, at=1.5)
    batch = Batch.objects.get()
    assert (batch.volume_hl, batch.brewed_at) == (22, house.at(1.5))
    found = balance_of(batch)
    assert (found.produced, found.in_vessels, found.difference_hl) == (22, 19, 0)


def test_batch_that_was_recorded_by_itself_keeps_its_own_volume(house: Brewhouse) -> None:
    by = acting(house.hand, now=house.at(0.5))
    record_batch(by=by, number="B1", beer=house.pale, brewed_at=house.at(0.5), volume_hl=21)
    batch = house.brewed("B1", 1)
    corrected(house, the("brew"), volume_hl=19)
    batch.refresh_from_db()
    assert (batch.volume_hl, balance_of(batch).difference_hl) == (21, 2)


def test_packaging_is_corrected_in_time_and_loss(house: Brewhouse, moved: Movement) -> None:
    packaged, lot = the("package"), Lot.objects.get()
    house.shipped(lot, 70)
    assert refused_with(house, packaged, at=49) == ("moved_at", "empty")
    assert refused_with(house, packaged, at=100) == ("moved_at", "shipped")
    assert refused_with(house, packaged, loss_hl=9.5, loss_reason="x") == ("loss_hl", "unbalanced")
    corrected(house, packaged, at=58, loss_hl=0.5, loss_reason="Foam", volume_hl=99)
    lot.refresh_from_db()
    packaged.refresh_from_db()
    assert (lot.packaged_at, packaged.volume_hl, packaged.loss_hl) == (house.at(58), 3, 0.5)
    assert balance_of(lot.batch).difference_hl == 0


def test_dump_is_corrected_in_volume_and_time(house: Brewhouse, moved: Movement) -> None:
    made = dumped(house, house.fv, 70, volume_hl=2)
    assert refused_with(house, made.movement, volume_hl=8.5) == ("volume_hl", "unbalanced")
    corrected(house, made.movement, volume_hl=8, at=71)
    found = balance_of(Batch.objects.get())
    assert (found.dumped, found.in_vessels, found.difference_hl) == (8, 9, 0)
    made.movement.refresh_from_db()
    assert made.movement.moved_at == house.at(71)


def test_dump_of_yeast_is_corrected_within_the_crop(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    crop = house.cropped("Y-1", 30, vessel=house.yv, generation=1)
    made = dumped(house, house.yv, 50, volume_hl=0.2, why="spent")
    assert refused_with(house, made.movement, volume_hl=0.52) == ("volume_hl", "unbalanced")
    corrected(house, made.movement, volume_hl=0.5)
    assert left_in(crop.fill) == 0


def test_blend_is_corrected_part_by_part(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.brewed("B2", 2, vessel=house.fv_2)
    more = (Drawn(house.fv_2, 9, suffix="_2"),)
    fill = house.moved(house.fv, house.bt, 50, volume_hl=10, more=more, batch="B3")
    first, second = fill.moved_in.order_by("pk")
    corrected(house, second, volume_hl=8, at=51)
    first.refresh_from_db()
    fill.refresh_from_db()
    assert (fill.volume_hl, fill.filled_at) == (18, house.at(51))
    assert (first.moved_at, first.volume_hl) == (house.at(51), 10)
    blend = Batch.objects.get(number="B3")
    assert (blend.volume_hl, blend.brewed_at) == (18, house.at(51))
    assert {balance_of(batch).difference_hl for batch in Batch.objects.all()} == {0}


def test_movements_of_other_kinds_are_not_corrected(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    pitched = house.pitched(house.bought(), 2)
    assert refused_with(house, pitched, at=3) == (None, "kind")


def test_corrections_are_for_those_who_work_in_the_cellar(
    house: Brewhouse, moved: Movement
) -> None:
    for user in (house.owner, make_user()):
        with pytest.raises(NotAllowed):
            corrected(house, moved, volume_hl=11, by=acting(user, now=house.at(200)))


def test_ledger_covers_a_correction(house: Brewhouse) -> None:
    bind_unbound(now=house.at(0))
    house.recovery_recorded()
    house.brewed("B1", 1)
    house.moved(house.fv, house.bt, 50, volume_hl=12)
    corrected(house, the("transfer"), volume_hl=11, at=50.5)
    assert list(check_everything()) == []
