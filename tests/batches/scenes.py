"""A small brewery in which beer moves: vessels released, filled, transferred, packaged."""

from datetime import datetime, timedelta
from typing import Any

from brewhygiene.atp.models.readings import Result
from brewhygiene.batches.brews import actions as brew_actions
from brewhygiene.batches.crops import actions as crop_actions
from brewhygiene.batches.decisions import actions as decision_actions
from brewhygiene.batches.lots import actions as lot_actions
from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.holds import Hold, HoldDecision
from brewhygiene.batches.models.lots import Lot, Shipment
from brewhygiene.batches.models.movements import Movement
from brewhygiene.batches.transfers import actions as transfer_actions
from brewhygiene.batches.transfers.actions import Drawn
from brewhygiene.cellar.models import Fill, Vessel, VesselKind
from brewhygiene.plates import actions as plate_actions
from brewhygiene.plates.models import Plate
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import NOW, PASSWORD, Cellar, acting, make_vessel

HOUR = timedelta(hours=1)
DAY = timedelta(days=1)


class Brewhouse(Cellar):
    """A cellar with a second fermenter, bright tanks, a yeast vessel, hoses and a filler."""

    def __init__(self, *, began: datetime = NOW, **brewery: Any) -> None:
        self.began = began
        super().__init__(**brewery)
        regime = self.version.regime
        regime.vessel_kinds = [kind.value for kind in VesselKind]
        regime.save()
        self.fv = self.vessel
        self.fv_2 = make_vessel(name="FV two")
        self.bt = make_vessel(name="BT one", kind="bright_tank")
        self.bt_2 = make_vessel(name="BT two", kind="bright_tank")
        self.yv = make_vessel(name="YV one", kind="yeast_vessel", volume_hl=4)
        self.hose = make_vessel(name="Hose one", kind="hose_set", volume_hl=0.2)
        self.hx = make_vessel(name="HX one", kind="heat_exchanger", volume_hl=0.5)
        self.filler = make_vessel(name="Filler one", kind="filler", volume_hl=1)

    def sampled(self, turnaround: Turnaround, *, now: datetime = NOW, **values: Any) -> Result:
        """Sampled, with the meter's check of that day, whatever the hour."""
        self.checked(now=now)
        return super().sampled(turnaround, now=now, **values)

    def at(self, hours: float) -> datetime:
        """Hours after the scene began."""
        return self.began + hours * HOUR

    def ready(self, vessel: Vessel, hours: float) -> None:
        """Emptied, cleaned, sampled and released, so that it can be filled at that hour."""
        self.released(vessel=vessel, now=self.at(hours) - timedelta(minutes=45))

    def brewed(
        self,
        number: str,
        hours: float,
        *,
        vessel: Vessel | None = None,
        volume_hl: float = 20,
        through: tuple[Vessel, ...] = (),
        **values: Any,
    ) -> Batch:
        """A vessel made ready and filled with a new batch."""
        vessel = vessel or self.fv
        self.ready(vessel, hours)
        turnaround = vessel.turnarounds.get(closed_at__isnull=True)
        now = self.at(hours)
        fill = self.filled(
            turnaround, now=now, batch=number, volume_hl=volume_hl, through=through, **values
        )
        batch: Batch = fill.of_batch.batch
        return batch

    def moved(
        self,
        source: Vessel,
        target: Vessel,
        hours: float,
        *,
        volume_hl: float = 19,
        through: tuple[Vessel, ...] = (),
        ready: bool = True,
        more: tuple[Drawn, ...] = (),
        batch: str = "",
        **drawn: Any,
    ) -> Fill:
        if ready:
            self.ready(target, hours)
        return transfer_actions.transfer(
            by=acting(self.hand, now=self.at(hours)),
            sources=(Drawn(source, volume_hl, **drawn), *more),
            to_vessel=target,
            moved_at=self.at(hours),
            through=through,
            batch=batch,
        )

    def bought(self, number: str = "Y-0", hours: float = -1, **values: Any) -> YeastCrop:
        return crop_actions.receive_yeast(
            by=acting(self.hand, now=self.at(hours)),
            **{
                "number": number,
                "supplier": "Yeast bank (invented), lot 7",
                "cropped_at": self.at(hours),
                "volume_hl": 0.5,
                **values,
            },
        )

    def pitched(self, crop: YeastCrop, hours: float, *, vessel: Vessel | None = None) -> Movement:
        return brew_actions.pitch(
            by=acting(self.hand, now=self.at(hours)),
            vessel=vessel or self.fv,
            crop=crop,
            pitched_at=self.at(hours),
            volume_hl=0.1,
        )

    def cropped(
        self,
        number: str,
        hours: float,
        *,
        source: Vessel | None = None,
        vessel: Vessel | None = None,
        **values: Any,
    ) -> YeastCrop:
        if vessel is not None:
            self.ready(vessel, hours)
        return crop_actions.crop_yeast(
            by=acting(self.hand, now=self.at(hours)),
            from_vessel=source or self.fv,
            number=number,
            cropped_at=self.at(hours),
            vessel=vessel,
            **{"volume_hl": 0.5, "generation": None, **values},
        )

    def packaged(self, number: str, vessel: Vessel, hours: float, **values: Any) -> Lot:
        return lot_actions.package(
            by=acting(self.hand, now=self.at(hours)),
            vessel=vessel,
            number=number,
            packaged_at=self.at(hours),
            **{"container": "keg", "unit_l": 30, "units": 10, **values},
        )

    def shipped(self, lot: Lot, hours: float, **values: Any) -> Shipment:
        now = self.at(hours)
        return lot_actions.ship(
            by=acting(self.hand, now=now),
            lot=lot,
            **{
                "customer": "The Ninth Lantern (invented)",
                "address": "9 Quay Row, Tolvenhythe",
                "units": 4,
                "shipped_on": now.date(),
                **values,
            },
        )

    def grew(self, vessel: Vessel, taken: float, read: float, *, state: str = "positive") -> Plate:
        """A plate of a vessel's open turnaround or its last one, sent and read at these hours."""
        turnaround = vessel.turnarounds.order_by("-pk").first()
        assert turnaround is not None
        plate = plate_actions.send_plate(
            by=acting(self.hand, now=self.at(taken)),
            turnaround=turnaround,
            point=vessel.points.order_by("order").first(),
            medium="WLN",
            neutraliser="thiosulfate",
            incubation_c=28,
            incubation_days=1,
            taken_at=self.at(taken),
        )
        return plate_actions.read_plate(
            by=acting(self.brewer, now=self.at(read)),
            plate=plate,
            state=state,
            colonies=4 if state == "positive" else None,
            organism="lactic rods" if state == "positive" else "",
        )

    def ruled(self, hold: Hold, choice: str, hours: float, **values: Any) -> HoldDecision:
        return decision_actions.decide(
            hold=hold,
            **{
                "by": acting(self.brewer, now=self.at(hours)),
                "choice": choice,
                "reason": "Forced sample grew nothing",
                "password": PASSWORD,
                **values,
            },
        )
