"""How the invented beer and yeast move: pitched, cropped, transferred, packaged, shipped, traced.

Nothing here draws from the play's chance, so that all else of it stays as it is.
"""

from datetime import timedelta

from django.utils import timezone

from brewhygiene.batches.brews.actions import pitch
from brewhygiene.batches.brews.queries import left_in
from brewhygiene.batches.crops.actions import crop_yeast, receive_yeast
from brewhygiene.batches.decisions.actions import decide
from brewhygiene.batches.dumps.actions import dump
from brewhygiene.batches.holds import open_holds
from brewhygiene.batches.lots.actions import package, ship, units_shipped
from brewhygiene.batches.models.batches import CropSource, YeastCrop
from brewhygiene.batches.models.dumps import DumpReason, Went
from brewhygiene.batches.models.holds import Choice
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.recall.actions import begin_drill, end_drill
from brewhygiene.batches.transfers.actions import Drawn, transfer
from brewhygiene.cellar.models import Fill, Vessel, VesselKind
from brewhygiene.demo.brewery import FERMENTS, InventedBrewery
from brewhygiene.demo.people import DEMO_PASSWORDS
from brewhygiene.demo.stage import Script, Stage
from brewhygiene.ledger.recording import Actor

CUSTOMERS = (
    ("Othermoss Tap", "4 Weir Lane, Tolvenhythe"),
    ("Brindlequay Stores", "17 Salt Yard, Brindlequay"),
    ("Gullwether Inn", "1 Ferry Stairs, Gullwether"),
)
KEG_L = 30
# Of what is in a fermenter, so much goes into the first bright tank, and into the second.
FIRST_SHARE, LAST_SHARE = 0.6, 0.95
PITCHED_HL = 0.2
CROPPED_HL = 0.8


class BeerMoves:
    """What happens to beer and yeast beside the vessels' own turnarounds."""

    def __init__(self, stage: Stage, brewery: InventedBrewery) -> None:
        self.stage = stage
        self.brewery = brewery

    def _at_desk(self, name: str = "mara") -> Actor:
        return Actor(user=self.brewery.people[name], now=self.stage.moment, address="192.0.2.31")

    def scripts(self) -> list[Script]:
        return [self.bought_yeast(), self.first_plate(), self.drill(), self.second_plate()]

    # --- deeds of the vessels ---------------------------------------------------------------

    def _source(self, beer: str) -> Fill | None:
        """The fermenter's fill of a beer that has fermented, and is there still."""
        return (
            Fill.objects.filter(
                vessel__kind=VesselKind.FERMENTER,
                beer=self.brewery.beers[beer],
                emptying__isnull=True,
                of_batch__isnull=False,
                filled_at__lte=self.stage.moment - FERMENTS,
            )
            .select_related("vessel")
            .order_by("-filled_at")
            .first()
        )

    def into(self, vessel: Vessel, *, beer: str, by: Actor) -> bool:
        """Transfer into a bright tank, or crop into a yeast vessel, where there is a source."""
        source = self._source(beer)
        hose = (self.brewery.vessels["Hose set A"],)
        if source is None or vessel.kind not in (VesselKind.BRIGHT_TANK, VesselKind.YEAST_VESSEL):
            return False
        if vessel.kind == VesselKind.BRIGHT_TANK:
            left = left_in(source)
            share = FIRST_SHARE if left > source.volume_hl / 2 else LAST_SHARE
            moved = round(min(left * share, vessel.volume_hl * 0.9), 1)
            drawn = Drawn(source.vessel, moved, loss_hl=0.2, loss_reason="Hose and trub")
            transfer(by=by, sources=(drawn,), to_vessel=vessel, moved_at=by.now, through=hose)
            return True
        earlier = YeastCrop.objects.filter(source=CropSource.CROPPED).count()
        crop_yeast(
            by=by,
            from_vessel=source.vessel,
            number=f"Y-{earlier + 1:02d}",
            cropped_at=by.now,
            volume_hl=CROPPED_HL,
            viability_pct=94,
            vessel=vessel,
            through=hose,
        )
        return True

    def pitch(self, vessel: Vessel, *, beer: str, by: Actor) -> None:
        """Pitch a new brew: ale with the latest crop, all else with what was bought for it."""
        ale = YeastCrop.objects.filter(
            source=CropSource.CROPPED, cropped_from__beer=self.brewery.beers[beer]
        )
        crop = ale.order_by("-cropped_at").first() if beer == "pale" else None
        crop = crop or YeastCrop.objects.get(number="Y-B1" if beer == "lager" else "Y-B2")
        pitch(by=by, vessel=vessel, crop=crop, pitched_at=by.now, volume_hl=PITCHED_HL)

    def package(self, vessel: Vessel, *, by: Actor) -> None:
        """Rack a bright tank into kegs as it is emptied; they are shipped the next morning."""
        fill = vessel.fills.filter(emptying__isnull=True, of_batch__isnull=False).first()
        if vessel.kind != VesselKind.BRIGHT_TANK or fill is None:
            return
        left = left_in(fill)
        units = int(left * 100 * 0.985 / KEG_L)
        lot = package(
            by=by,
            vessel=vessel,
            number=f"K-{Lot.objects.count() + 1:03d}",
            container="keg",
            unit_l=KEG_L,
            units=units,
            packaged_at=by.now,
            best_before=(by.now + timedelta(days=120)).date(),
            loss_hl=round(left - units * KEG_L / 100, 2),
            loss_reason="Foam and tank bottom",
            through=(self.brewery.vessels["Hose set A"],),
        )
        self.stage.add(self._shipped(lot))

    def _shipped(self, lot: Lot) -> Script:
        yield self.stage.moment + timedelta(hours=22)
        for share, (name, address) in zip((0.4, 0.3, 0.1), CUSTOMERS, strict=True):
            # Whatever the hour is that the play is made at, its days are those of the brewery.
            with timezone.override(self.stage.zone):
                ship(
                    by=self._at_desk("jonas"),
                    lot=lot,
                    customer=name,
                    address=address if lot.number == "K-001" else "",
                    units=int(lot.units * share),
                    shipped_on=timezone.localdate(self.stage.moment),
                    document=f"DN {lot.number}",
                )

    # --- deeds of their own -----------------------------------------------------------------

    def bought_yeast(self) -> Script:
        yield self.stage.at(43, "10:00")
        for number, supplier in (
            ("Y-B1", "Marrowfen Yeast Bank, lager, lot 0417"),
            ("Y-B2", "Marrowfen Yeast Bank, ale, lot 0388"),
        ):
            receive_yeast(
                by=self._at_desk("jonas"),
                number=number,
                supplier=supplier,
                cropped_at=self.stage.moment,
                volume_hl=6,
                viability_pct=97,
            )

    def _decide(self, choice: str, reason: str, *, number: str = "", crops: bool = False) -> None:
        """Sign the open holds: those of crops, of one batch, or of all else."""
        for hold in open_holds().order_by("pk"):
            about = hold.batch.number if hold.batch else hold.crop.number if hold.crop else ""
            if (crops and hold.crop) or (not crops and about == number):
                decide(
                    by=self._at_desk(),
                    hold=hold,
                    choice=choice,
                    reason=reason,
                    password=DEMO_PASSWORDS["mara"],
                )

    def first_plate(self) -> Script:
        """The plate of BT 1 that grew wild yeast: each hold of it decided by itself."""
        yield self.stage.at(30, "11:20")
        for number in sorted({hold.batch.number for hold in open_holds() if hold.batch}):
            self._decide("sample", "Two kegs taken back, forced at 28 °C", number=number)
            self._decide("release", "Forced kegs: nothing grew, flavour as usual", number=number)
        self._decide("release", "Nothing grew on the forced kegs", crops=True)
        self._decide("release", "Hoses boiled. BT 1 stays held until it is opened and re-cleaned")

    def drill(self) -> Script:
        """A recall drill of the first lot."""
        yield self.stage.at(20, "14:00")
        lot = Lot.objects.get(number="K-001")
        drill = begin_drill(by=self._at_desk(), lot=lot)
        yield self.stage.moment + timedelta(minutes=37)
        end_drill(
            by=self._at_desk(),
            drill=drill,
            in_stock=lot.units - units_shipped(lot) - 1,
            lost=0,
            explanation="One keg was drunk at the brewery tap and never booked out",
        )

    def second_plate(self) -> Script:
        """The plate of FV 1: the crop is dumped at once, the beer still waits for its decision."""
        yield self.stage.at(2, "10:30")
        self._decide("destroy", "To be dumped, YV 1 to be cleaned", crops=True)
        for fill in Fill.objects.filter(
            crop__holds__outcome=Choice.DESTROY, emptying__isnull=True
        ).select_related("vessel"):
            if (left := round(left_in(fill), 2)) > 0:
                dump(
                    by=self._at_desk(),
                    vessel=fill.vessel,
                    volume_hl=left,
                    dumped_at=self.stage.moment,
                    why=DumpReason.INFECTED,
                    why_note="Held by the plate of FV 1",
                    went=Went.HAULIER,
                    went_note="Killed in hot caustic first",
                    password=DEMO_PASSWORDS["mara"],
                )
