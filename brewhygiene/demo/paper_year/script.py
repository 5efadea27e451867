"""Two days on which the invented brewery carries its paper year over, line by line."""

import random
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from brewhygiene.atp.meters.actions import AtpTestLotValues, save_test_lot
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTestLot, ControlCheck
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Fill, PartWorkKind
from brewhygiene.cellar.parts.actions import record_part_work
from brewhygiene.demo.brewery import InventedBrewery
from brewhygiene.demo.paper_year.actions import carry_over, carry_over_checks
from brewhygiene.demo.paper_year.faults import METER_AWAY, METER_BACK, PAPER_BEGINS, Code, fault_of
from brewhygiene.demo.paper_year.plan import SWAB_LOTS, PaperPlan
from brewhygiene.demo.stage import Script, Stage
from brewhygiene.quantities.sources import ValueSource

# The day on which the log is typed in, and seconds that a line takes.
TYPED_ON, LINE_S = 44, 45


class PaperYear:
    """The paper year, told to the ledger when it was typed in."""

    def __init__(self, stage: Stage, brewery: InventedBrewery) -> None:
        self.stage = stage
        self.brewery = brewery
        self.chance = random.Random(20260312)

    def scripts(self) -> list[Script]:
        return [self.carried_over()]

    def carried_over(self) -> Script:
        """Lots and checks first, then every line, then the work on parts."""
        mara = self.brewery.people["mara"]
        yield self.stage.at(TYPED_ON, "07:30")
        swabs = {kind: list(self._lots(kind)) for kind in SWAB_LOTS}
        checks: dict[tuple[str, date], ControlCheck] = {}
        for name, meter in self.brewery.meters.items():
            own = list(self._checks(name))
            carry_over_checks(by=self.stage.by(mara), meter=meter, checks=own)
            checks |= {(name, check.checked_on): check for check in own if check.passed}
        limits = {
            (limits.sample_kind, limits.moment): limits
            for limits in LimitSet.objects.filter(approved_at__isnull=False)
        }
        plan = PaperPlan(self.stage, self.brewery, swabs=swabs, limits=limits, checks=checks)
        brewery = Brewery.current()
        held: dict[str, Fill] = {}
        for emptied, name, left in plan.days():
            turn = plan.turn(emptied, name, left, held.get(name))
            yield self.stage.moment + timedelta(seconds=LINE_S)
            made = carry_over(by=self.stage.by(mara), turn=turn, brewery=brewery)
            assert made.closing_fill is not None
            held[name] = made.closing_fill
        yield from self._part_work()

    def _lots(self, kind: str) -> Iterator[tuple[int, AtpTestLot]]:
        """The lots of the paper year, used up since."""
        atp_test = next(
            lot.atp_test for lot in self.brewery.lots if lot.atp_test.sample_kind == kind
        )
        mara = self.brewery.people["mara"]
        for begins, name in SWAB_LOTS[kind]:
            values = AtpTestLotValues(
                atp_test,
                name,
                expires_on=self._day(begins - 140),
                received_on=self._day(begins + 3),
                active=False,
            )
            lot = save_test_lot(by=self.stage.by(mara), values=values)
            yield begins, lot

    def _day(self, days_ago: int) -> date:
        return self.stage.at(days_ago, "12:00").astimezone(self.stage.zone).date()

    def _checks(self, name: str) -> Iterator[ControlCheck]:
        """Meter A on every day that it was there, meter B once a week and when it was used."""
        low, high = self.brewery.positive_rlu[name]
        meter, dim = self.brewery.meters[name], fault_of(Code.METER)
        for days_ago in range(PAPER_BEGINS + 1, TYPED_ON, -1):
            away = METER_BACK <= days_ago <= METER_AWAY
            if (name == "a" and away) or (name == "b" and not away and days_ago % 7):
                continue
            moment: datetime = self.stage.at(days_ago, "06:20")
            positive = self.chance.uniform(low, high)
            if name == "a" and dim.on_at(days_ago):
                positive *= dim.times_at(days_ago)
            blank = self.chance.randint(0, 2) if name == "a" else self.chance.randint(4, 16)
            yield ControlCheck(
                meter=meter,
                checked_at=moment,
                checked_on=self._day(days_ago),
                blank_rlu=blank,
                positive_rlu=round(positive),
                source=ValueSource.IMPORTED,
                passed=meter.blank_within(blank) and meter.positive_within(round(positive)),
                checked_by=self.brewery.people[self.chance.choice(("jonas", "priya"))],
            )

    def _part_work(self) -> Script:
        """What ended the faults that sat in a part."""
        spray, gasket = fault_of(Code.SPRAY), fault_of(Code.GASKET)
        for fault, kind, note in (
            (gasket, PartWorkKind.GASKET, "Cracked on the inner edge"),
            (spray, PartWorkKind.SPRAY_DEVICE, "Hop pulp in the head and half its holes shut"),
        ):
            vessel = self.brewery.vessels[fault.vessel]
            yield self.stage.moment + timedelta(minutes=2)
            record_part_work(
                by=self.stage.by(self.brewery.people["jonas"]),
                vessel=vessel,
                kind=kind,
                done_at=self.stage.at(fault.ends, "05:30"),
                point=vessel.points.get(name=fault.point) if fault.point else None,
                note=note,
            )
