"""Invented genealogies: movements and cleans written as they are told, without the rest."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from brewhygiene.batches.models.batches import Batch, BatchFill, CropSource, YeastCrop
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import Movement, MovementKind, Touch
from brewhygiene.batches.numbers import key_of
from brewhygiene.cellar.models import Beer, Emptying, Fill, Vessel
from brewhygiene.people.models import Signature, User
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.models import Clean, Turnaround

START = datetime(2026, 1, 5, 6, 0, tzinfo=timezone.get_fixed_timezone(0))
KINDS = {"H": "hose_set", "HX": "heat_exchanger", "P": "filler", "YV": "yeast_vessel"}
EVENTS = {
    "brew": "brew",
    "pitch": "pitch",
    "crop": "crop",
    "package": "package",
    "dry_hop": "dry_hop",
    "dump": "dump",
}


class Genealogy:
    """Things by their names: B1@FV1 is a fill, Y1 a crop, L1 a lot, all else a vessel."""

    def __init__(self, *, by: User, beer: Beer, version: RegimeVersion) -> None:
        self.by, self.beer, self.version = by, beer, version
        self.things: dict[str, Vessel | Fill | YeastCrop | Lot] = {}
        self.batches: dict[str, Batch] = {}

    def at(self, hour: float) -> datetime:
        return START + timedelta(hours=hour)

    def hour(self, moment: datetime) -> float:
        return (moment - START) / timedelta(hours=1)

    def vessel(self, name: str) -> Vessel:
        if name not in self.things:
            word = name.rstrip("0123456789")
            self.things[name] = Vessel.objects.create(
                name=name, kind=KINDS.get(word, "fermenter"), volume_hl=30
            )
        thing = self.things[name]
        assert isinstance(thing, Vessel)
        return thing

    def batch(self, name: str, hour: float) -> Batch:
        if name not in self.batches:
            self.batches[name] = Batch.objects.create(
                number=name,
                number_key=key_of(name),
                beer=self.beer,
                brewed_at=self.at(hour),
                volume_hl=20,
                recorded_by=self.by,
            )
        return self.batches[name]

    def thing(self, name: str, hour: float, path: Sequence[str]) -> Vessel | Fill | YeastCrop | Lot:
        if name in self.things:
            return self.things[name]
        if "@" in name:
            batch_name, vessel_name = name.split("@")
            fill = Fill.objects.create(
                vessel=self.vessel(vessel_name),
                beer=self.beer,
                batch=batch_name,
                volume_hl=20,
                filled_at=self.at(hour),
                recorded_by=self.by,
            )
            BatchFill.objects.create(batch=self.batch(batch_name, hour), fill=fill)
            self.things[name] = fill
        elif name[0] == "Y" and name[1].isdigit():
            parent = next((one.split("@")[0] for one in path if "@" in one), None)
            bought = name == path[0]
            self.things[name] = YeastCrop.objects.create(
                number=name,
                number_key=key_of(name),
                source=CropSource.BOUGHT if bought else CropSource.CROPPED,
                supplier="Yeast bank (invented)" if bought else "",
                cropped_from=None if bought or parent is None else self.batch(parent, hour),
                generation=1,
                volume_hl=0.5,
                cropped_at=self.at(hour),
                recorded_by=self.by,
            )
        elif name[0] == "L":
            parent = next(one.split("@")[0] for one in path if "@" in one)
            self.things[name] = Lot.objects.create(
                number=name,
                number_key=key_of(name),
                batch=self.batch(parent, hour),
                container="keg",
                unit_l=30,
                units=10,
                packaged_at=self.at(hour),
                recorded_by=self.by,
            )
        else:
            return self.vessel(name)
        return self.things[name]

    def moved(self, kind: str, hour: float, path: Sequence[str]) -> Movement:
        things = [self.thing(name, hour, path) for name in path]
        movement = Movement(
            kind=EVENTS.get(kind, MovementKind.TRANSFER),
            moved_at=self.at(hour),
            recorded_by=self.by,
        )
        first, last = things[0], things[-1]
        if isinstance(first, YeastCrop):
            movement.from_crop = first
        elif isinstance(first, Fill):
            movement.from_fill = first
        if kind == "dump":
            pass  # it goes nowhere
        elif isinstance(last, Lot):
            movement.to_lot = last
        elif isinstance(last, YeastCrop):
            movement.to_crop = last
        else:
            movement.to_fill = next(one for one in reversed(things) if isinstance(one, Fill))
        movement.save()
        for place, thing in enumerate(things):
            column = {Vessel: "vessel", Fill: "fill", YeastCrop: "crop", Lot: "lot"}[type(thing)]
            Touch.objects.create(
                movement=movement, place=place, moved_at=movement.moved_at, **{column: thing}
            )
        return movement

    def cleaned(self, name: str, hour: float, *, passed: bool) -> None:
        """A clean that took no time; passed means released."""
        vessel, at = self.vessel(name), self.at(hour)
        emptying = Emptying.objects.create(vessel=vessel, emptied_at=at, recorded_by=self.by)
        open_one = vessel.turnarounds.filter(closed_at__isnull=True).first()
        turnaround = open_one or Turnaround.objects.create(
            vessel=vessel, emptying=emptying, opened_at=at
        )
        clean = Clean.objects.create(
            turnaround=turnaround,
            version=self.version,
            started_at=at,
            started_by=self.by,
            finished_at=at,
            finished_by=self.by,
        )
        if passed:
            Decision.objects.create(
                turnaround=turnaround,
                clean=clean,
                outcome="release",
                decided_at=at,
                signature=Signature.objects.create(
                    user=self.by, printed_name="Invented", meaning="release", signed_at=at
                ),
                gates=[],
                lapses_at=at + timedelta(hours=24),
            )

    def play(self, events: Iterable[Mapping[str, Any]]) -> None:
        for event in events:
            if event["type"] == "clean":
                self.cleaned(event["node"], event["t"], passed=event["passed"])
            else:
                self.moved(event["type"], event["t"], event["path"])

    def named(self, reached: Iterable[Any]) -> dict[str, float]:
        """The first hour at which each thing was reached, by its name."""
        names = {(type(thing).__name__, thing.pk): name for name, thing in self.things.items()}
        found: dict[str, float] = {}
        for one in reached:
            for kind, column in (
                ("Vessel", one.vessel_pk),
                ("Fill", one.fill_pk),
                ("YeastCrop", one.crop_pk),
                ("Lot", one.lot_pk),
            ):
                if column is not None:
                    found.setdefault(names[(kind, column)], self.hour(one.moved_at))
        return found
