"""Volumes of every batch balance, whatever is brewed, moved, dumped and corrected, in any order."""

import random

import pytest

from brewhygiene.batches.brews.balance import balance_of
from brewhygiene.batches.brews.queries import left_in
from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import Movement
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.refusals import Refusal
from tests.batches.corrections.movements.acts import corrected
from tests.batches.scenes import Brewhouse
from tests.batches.test_dumps import dumped

TANKS = ("fv", "fv_2", "bt", "bt_2")


class Play:
    """Acts drawn from a seed; what the rules refuse is left out."""

    def __init__(self, house: Brewhouse, seed: int) -> None:
        self.house, self.chance = house, random.Random(seed)
        self.hour = 0.0
        self.done: list[str] = []

    def full(self) -> list[Vessel]:
        return list(
            Vessel.objects.filter(fills__isnull=False, fills__emptying__isnull=True).order_by("pk")
        )

    def free(self) -> list[Vessel]:
        full = self.full()
        return [v for v in (getattr(self.house, name) for name in TANKS) if v not in full]

    def volume(self, vessel: Vessel) -> float:
        fill = Fill.objects.get(vessel=vessel, emptying__isnull=True)
        return round(left_in(fill) * self.chance.choice([0.25, 0.5, 0.9]), 2)

    def brew(self) -> None:
        vessel = self.chance.choice(self.free())
        self.house.brewed(f"B{self.hour:g}", self.hour, vessel=vessel, volume_hl=20)

    def transfer(self) -> None:
        source, target = self.chance.choice(self.full()), self.chance.choice(self.free())
        batch = self.chance.choice(["", f"B{self.hour:g}"])
        self.house.moved(source, target, self.hour, volume_hl=self.volume(source), batch=batch)

    def package(self) -> None:
        vessel = self.chance.choice(self.full())
        units = int(self.volume(vessel) * 100 / 30)
        self.house.packaged(f"L{self.hour:g}", vessel, self.hour, units=units)

    def dump(self) -> None:
        vessel = self.chance.choice(self.full())
        dumped(self.house, vessel, self.hour, volume_hl=self.volume(vessel))

    def dump_all(self) -> None:
        vessel = self.chance.choice(self.full())
        left = left_in(Fill.objects.get(vessel=vessel, emptying__isnull=True))
        dumped(self.house, vessel, self.hour, volume_hl=left, empties=True)

    def correct_volume(self) -> None:
        moves = Movement.objects.filter(kind__in=("brew", "transfer", "dump")).order_by("pk")
        move = self.chance.choice(list(moves))
        factor = self.chance.choice([0.8, 0.95, 1.1])
        volume = round((move.volume_hl or 0) * factor, 2)
        corrected(self.house, move, hours=self.hour, volume_hl=volume)

    def correct_loss(self) -> None:
        moves = Movement.objects.filter(kind__in=("transfer", "package")).order_by("pk")
        move = self.chance.choice(list(moves))
        corrected(self.house, move, hours=self.hour, loss_hl=0.3, loss_reason="Trub")

    def correct_source(self) -> None:
        moves = Movement.objects.filter(kind__in=("transfer", "package", "dump")).order_by("pk")
        move, vessel = self.chance.choice(list(moves)), self.chance.choice(self.full())
        corrected(self.house, move, hours=self.hour, vessel=vessel)

    def act(self) -> None:
        self.hour += 5
        moving = [self.transfer, self.transfer, self.package, self.dump]
        correcting = [self.correct_volume, self.correct_loss, self.correct_source]
        empties = [self.dump_all] if len(self.full()) > 2 else []
        act = self.chance.choice([self.brew, *moving, *correcting, *empties])
        try:
            act()
        except (Refusal, IndexError):  # refused, or nothing there to choose from
            return
        self.done.append(act.__name__)


@pytest.mark.parametrize("seed", range(4))
def test_every_batch_balances_after_every_act(house: Brewhouse, seed: int) -> None:
    play = Play(house, seed)
    for vessel in (house.fv, house.fv_2):
        play.hour += 5
        house.brewed(f"B{play.hour:g}", play.hour, vessel=vessel)
    for _ in range(60):
        if len(play.done) == 14:
            break
        play.act()
        for batch in Batch.objects.all():
            found = balance_of(batch)
            # But for what a dipstick may be off by, of vessels that were emptied.
            fills = Fill.objects.filter(of_batch__batch=batch)
            emptied = [left_in(fill) for fill in fills.filter(emptying__isnull=False)]
            assert found.difference_hl == pytest.approx(sum(emptied), abs=1e-6), play.done
            for fill in fills:
                assert left_in(fill) >= -fill.volume_hl * 0.02 - 1e-6, play.done
            assert all(abs(left) <= 0.4 + 1e-6 for left in emptied), play.done
        for lot in Lot.objects.all():
            assert lot.origins.get().from_fill.of_batch.batch == lot.batch
        for fill in Fill.objects.filter(moved_in__kind="transfer").distinct():
            arrived = sum(move.volume_hl for move in fill.moved_in.all())
            assert fill.volume_hl == pytest.approx(arrived)
    assert len(play.done) == 14
    assert len(set(play.done)) >= 5
