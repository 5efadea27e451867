"""Six invented weeks, vessel by vessel: mostly routine, and one of everything that goes wrong."""

from datetime import timedelta

from brewhygiene.atp.causes.actions import record_found_cause
from brewhygiene.atp.models.causes import Cause
from brewhygiene.atp.models.readings import Verdict
from brewhygiene.cellar.models import Vessel
from brewhygiene.cellar.vessels.actions import take_out_of_service
from brewhygiene.demo import cleaning
from brewhygiene.demo.brewery import InventedBrewery
from brewhygiene.demo.cleaning import Trouble
from brewhygiene.demo.people import DEMO_PASSWORDS
from brewhygiene.demo.six_weeks.turns import USUAL, WITHOUT_AIR, Plan, Turns
from brewhygiene.demo.stage import Script, Stage
from brewhygiene.plates.closing.actions import resolve_plate
from brewhygiene.plates.models import Plate
from brewhygiene.regimes.models import StepKind
from brewhygiene.release import actions as release_actions
from brewhygiene.release.powers.explaining import Explanation, ReleaseCause
from brewhygiene.turnarounds import actions as turnaround_actions

PRIYA = Plan(who="priya")
SAMPLE_VALVE = "Sample valve"
# The day on which meter A fails its morning check.
METER_A_FAILS = 17


class History:
    """Everything up to yesterday."""

    def __init__(self, stage: Stage, brewery: InventedBrewery) -> None:
        self.stage = stage
        self.brewery = brewery
        self.turns = Turns(stage, brewery)

    def scripts(self) -> list[Script]:
        return [
            self.meters(),
            self.fv_1(),
            self.fv_2(),
            self.fv_3(),
            self.fv_4(),
            self.fv_5(),
            self.bt_1(),
            self.bt_2(),
            self.yv_1(),
            self.hx_1(),
            self.hoses(),
            self.tap_line(),
            self.keg_run(),
            *self.turns.beer_moves.scripts(),
        ]

    def usual(
        self, vessel: Vessel, days_ago: int, clock: str, holds: str, beer: str, plan: Plan = USUAL
    ) -> Script:
        return self.turns.usual(
            vessel, emptied=self.stage.at(days_ago, clock), holds=holds, beer=beer, plan=plan
        )

    def meters(self) -> Script:
        """The morning's control checks; meter B once a week, and when meter A fails."""
        for days_ago in range(42, -1, -1):
            yield self.stage.at(days_ago, "06:35")
            fails = days_ago == METER_A_FAILS
            self.turns.check_meter("a", blank_rlu=7 if fails else self.stage.chance.randint(0, 2))
            if fails or days_ago % 7 == 0:
                yield self.stage.at(days_ago, "06:39")
                self.turns.check_meter("b", blank_rlu=self.stage.chance.randint(4, 16))

    def fv_1(self) -> Script:
        vessel = self.brewery.vessels["FV 1"]
        yield from self.usual(vessel, 42, "07:20", "pale", "lager", Plan(plate=SAMPLE_VALVE))
        cold = Trouble(too_cold=StepKind.CAUSTIC, reason="Steam was low; the boiler is up again")
        yield from self.usual(
            vessel, 22, "06:50", "", "pale", Plan(who="priya", trouble=cold, plate=SAMPLE_VALVE)
        )
        # What grows on this plate is known only after the vessel has been filled.
        late = Plan(plate=SAMPLE_VALVE, positive="lactic rods, catalase negative")
        yield from self.usual(vessel, 9, "07:05", "", "lager", late)

    def fv_2(self) -> Script:
        vessel = self.brewery.vessels["FV 2"]
        reason = "The strong clean's gasket set had not come; a plate was sent instead"
        weaker = Plan(
            regime="Fermenter, hot caustic",
            weaker_reason=reason,
            plate=SAMPLE_VALVE,
            reasons={
                "regime_strength": Explanation(
                    ReleaseCause.SUPPLIES,
                    "Beer before and next are known, gaskets looked at with a lamp",
                    "No soil behind them; a plate was sent, gaskets are renewed next turn",
                )
            },
        )
        yield from self.usual(vessel, 40, "07:00", "saison", "pale", weaker)
        yield from self.over_the_limit(vessel)
        yield from self.usual(vessel, 12, "07:40", "", "fruited", PRIYA)

    def over_the_limit(self, vessel: Vessel) -> Script:
        """A reading over the action limit: held, the cause found, cleaned again, released."""
        turns = self.turns
        found = Plan(
            who="priya",
            rlu={SAMPLE_VALVE: 148},
            notes={SAMPLE_VALVE: "Valve was not pulsed during the caustic"},
            hold="Sample valve over the limit: take it apart, clean again",
        )
        turnaround = yield from turns.empty(
            vessel, at=self.stage.at(26, "06:55"), beer="lager", plan=found
        )
        yield from turns.clean(turnaround, begins=turns.after(30), plan=found)
        yield from turns.send(turnaround, begins=turns.after(12), plan=found)
        yield turns.after(15)
        turns.decide(turnaround, "hold", plan=found)
        yield turns.after(12)
        record_found_cause(
            by=self.stage.by(turns.person("priya")),
            turnaround=turnaround,
            cause=Cause.VALVE,
            result=turnaround.results.get(verdict=Verdict.ACTION),
            note="Beerstone behind the seat",
        )
        yield from turns.clean(turnaround, begins=turns.after(35), plan=PRIYA)
        again = Plan(who="priya", plate=SAMPLE_VALVE)
        yield from turns.send(turnaround, begins=turns.after(12), plan=again)
        yield turns.after(20)
        turns.decide(turnaround, "release")
        yield turns.after(30)
        turns.fill(turnaround, beer="lager", plan=PRIYA)

    def fv_3(self) -> Script:
        vessel = self.brewery.vessels["FV 3"]
        yield from self.usual(vessel, 38, "07:30", "pale", "sour")
        opened = Plan(
            who="jonas",
            rlu={"Racking arm": 6, "Manway gasket": 9},
            plate="Racking arm",
            note="Gaskets of this vessel are kept apart",
        )
        yield from self.usual(vessel, 15, "06:45", "", "sour", opened)

    def fv_4(self) -> Script:
        vessel = self.brewery.vessels["FV 4"]
        yield from self.usual(vessel, 41, "07:10", "lager", "saison", PRIYA)
        yield from self.usual(vessel, 20, "06:40", "", "free", Plan(plate=SAMPLE_VALVE))
        yield from self.stopped_clean(vessel)

    def stopped_clean(self, vessel: Vessel) -> Script:
        """A clean that is stopped half-way, and the one that takes its place."""
        turns = self.turns
        turnaround = yield from turns.empty(
            vessel, at=self.stage.at(8, "07:15"), beer="saison", plan=PRIYA
        )
        yield turns.after(25)
        clean = turns.start(turnaround, plan=PRIYA)
        yield from cleaning.until(
            self.stage,
            clean,
            who=turns.person("priya"),
            begins=turns.after(4),
            kind=StepKind.CAUSTIC,
        )
        yield turns.after(6)
        turnaround_actions.stop_clean(
            by=self.stage.by(turns.person("priya")),
            clean=clean,
            reason="The supply pump tripped and stayed off; reset by the electrician",
        )
        yield from turns.clean(turnaround, begins=turns.after(70), plan=PRIYA)
        yield from turns.send(turnaround, begins=turns.after(12), plan=PRIYA)
        yield turns.after(25)
        turns.decide(turnaround, "release")
        yield turns.after(30)
        turns.fill(turnaround, beer="saison", plan=PRIYA)

    def fv_5(self) -> Script:
        vessel = self.brewery.vessels["FV 5"]
        no_acid = Plan(
            trouble=Trouble(
                left_out=StepKind.ACID, reason="Acid drum empty; the next clean has its acid"
            ),
            reasons={
                "deviations": Explanation(
                    ReleaseCause.SUPPLIES,
                    "Walls and spray ball looked at with a lamp for beerstone",
                    "No beerstone seen; acid is due with the next clean",
                )
            },
        )
        yield from self.usual(vessel, 39, "07:25", "pale", "pale", no_acid)
        slips = Plan(
            who="priya",
            trouble=Trouble(
                slip=StepKind.CAUSTIC,
                not_reached=StepKind.RINSE,
                reason="Rinse reads as the tap does: pH 8.3 today",
            ),
            reasons={
                "deviations": Explanation(
                    ReleaseCause.WATER,
                    "pH of the tap beside the last rinse, read twice",
                    "Town water is hard this week: both read pH 8.3",
                )
            },
        )
        yield from self.usual(vessel, 24, "07:00", "", "fruited", slips)
        weak = Plan(
            trouble=Trouble(too_weak=StepKind.CAUSTIC, reason="Topped up from the drum"),
            note="Spray head looked at: no pulp in it",
        )
        yield from self.usual(vessel, 10, "06:50", "", "pale", weak)

    def bt_1(self) -> Script:
        vessel = self.brewery.vessels["BT 1"]
        grew = Plan(who="priya", plate=SAMPLE_VALVE, positive="wild yeast")
        yield from self.usual(vessel, 38, "09:00", "pale", "pale", grew)
        yield from self.plated_again(vessel)
        explained = Plan(
            who="priya",
            rlu={"Last rinse at the outlet": 11},
            notes={"Last rinse at the outlet": "Blank of the rinse water itself read 5"},
            reasons={
                "alerts": Explanation(
                    ReleaseCause.WATER,
                    "A blank of the rinse water itself, by the same sampler",
                    "The blank read 5 RLU and explains it; a plate was sent",
                )
            },
            plate=SAMPLE_VALVE,
        )
        yield from self.usual(vessel, 8, "12:00", "", "lager", explained)

    def plated_again(self, vessel: Vessel) -> Script:
        """A strong clean, a plate that stays empty, the positive one closed, and cleaned to use."""
        turns = self.turns
        strong = Plan(
            regime="After sour, mixed-culture or diastatic beer",
            plate=SAMPLE_VALVE,
            medium=WITHOUT_AIR,
        )
        waited = Plan(
            who="priya",
            reasons={
                "dirty_hold": Explanation(
                    ReleaseCause.TIME,
                    "Strong clean of the day of emptying, its new plate read negative",
                    "Tank stood cleaned while the plate grew, no soil in it",
                )
            },
        )
        turnaround = yield from turns.empty(
            vessel, at=self.stage.at(29, "08:30"), beer="pale", plan=strong
        )
        yield from turns.clean(turnaround, begins=turns.after(35), plan=strong)
        yield from turns.send(turnaround, begins=turns.after(12), plan=strong)
        yield self.stage.at(21, "11:00")
        resolve_plate(
            by=self.stage.by(turns.person("mara")),
            plate=Plate.objects.get(vessel=vessel, state="positive"),
            resolution="Beer sampled from keg and bottle: nothing grew. Sample valve rebuilt with "
            "new seats.",
            password=DEMO_PASSWORDS["mara"],
            reclean=turnaround.cleans.get(),
            inspected="repaired",
            finding="Sample valve taken apart: its seats were pitted. Manway and spray ball clean.",
            replating=Plate.objects.get(turnaround=turnaround),
        )
        yield from turns.clean(turnaround, begins=self.stage.at(16, "11:20"), plan=waited)
        yield from turns.send(turnaround, begins=turns.after(12), plan=waited)
        yield turns.after(25)
        turns.decide(turnaround, "release", plan=waited)
        yield turns.after(40)
        turns.fill(turnaround, beer="pale", plan=waited)

    def bt_2(self) -> Script:
        vessel = self.brewery.vessels["BT 2"]
        yield from self.usual(vessel, 33, "08:20", "pale", "lager", Plan(plate=SAMPLE_VALVE))
        yield from self.lapsed(vessel)
        yield from self.usual(vessel, 12, "11:30", "", "lager")
        yield from self.usual(vessel, 5, "08:10", "", "pale", Plan(plate=SAMPLE_VALVE))

    def lapsed(self, vessel: Vessel) -> Script:
        """Released, then the filling waits till next morning: re-sanitised and sampled again."""
        turns = self.turns
        turnaround = yield from turns.empty(
            vessel, at=self.stage.at(19, "12:30"), beer="pale", plan=PRIYA
        )
        yield from turns.clean(turnaround, begins=turns.after(30), plan=PRIYA)
        yield from turns.send(turnaround, begins=turns.after(12), plan=PRIYA)
        yield turns.after(20)
        turns.decide(turnaround, "release")
        yield from turns.resanitise(turnaround, begins=self.stage.at(18, "07:30"))
        yield from turns.send(turnaround, begins=turns.after(10))
        yield turns.after(20)
        turns.decide(turnaround, "release")
        yield turns.after(20)
        turns.fill(turnaround, beer="pale")

    def yv_1(self) -> Script:
        vessel = self.brewery.vessels["YV 1"]
        yield from self.usual(vessel, 37, "09:10", "pale", "pale")
        yield from self.usual(vessel, 23, "08:50", "", "pale", PRIYA)
        yield from self.opened_again(vessel)

    def opened_again(self, vessel: Vessel) -> Script:
        """A released vessel is opened, which voids its release."""
        turns = self.turns
        turnaround = yield from turns.empty(vessel, at=self.stage.at(5, "09:00"), beer="lager")
        yield from turns.clean(turnaround, begins=turns.after(20))
        yield from turns.send(turnaround, begins=turns.after(10))
        yield turns.after(20)
        turns.decide(turnaround, "release")
        yield turns.after(15)
        turnaround_actions.record_opening(
            by=self.stage.by(turns.person("jonas")),
            turnaround=turnaround,
            reason="Lid opened: the gasket sat askew",
        )
        yield from turns.resanitise(turnaround, begins=turns.after(15))
        yield from turns.send(turnaround, begins=turns.after(10))
        yield turns.after(15)
        turns.decide(turnaround, "release")
        yield turns.after(20)
        turns.fill(turnaround, beer="lager")

    def hx_1(self) -> Script:
        vessel = self.brewery.vessels["HX 1"]
        yield from self.usual(vessel, 34, "14:10", "pale", "pale")
        yield from self.usual(vessel, 23, "14:20", "", "pale", PRIYA)
        alone = Plan(
            who="mara",
            reasons={
                "two_people": Explanation(
                    ReleaseCause.TIME,
                    "Weekend brew, nobody else in the brewery or on call",
                    "Plates and gaskets seen clean, readings as always",
                )
            },
        )
        yield from self.usual(vessel, 13, "13:30", "", "lager", alone)
        yield from self.usual(vessel, 6, "14:00", "", "pale")
        yield from self.usual(vessel, 2, "13:40", "", "lager", PRIYA)

    def hoses(self) -> Script:
        vessel = self.brewery.vessels["Hose set A"]
        for days_ago, plan in ((29, USUAL), (11, PRIYA), (4, USUAL)):
            yield from self.usual(vessel, days_ago, "07:10", "pale", "pale", plan)

    def tap_line(self) -> Script:
        vessel, turns = self.brewery.vessels["Tap line 3"], self.turns
        yield from self.usual(vessel, 28, "09:30", "pale", "pale", PRIYA)
        turnaround = yield from turns.empty(
            vessel, at=self.stage.at(14, "15:30"), beer="lager", plan=PRIYA
        )
        yield from turns.clean(turnaround, begins=turns.after(20), plan=PRIYA)
        yield self.stage.at(13, "08:10")
        release_actions.record_fill_without_release(
            by=self.stage.by(turns.person("mara")),
            turnaround=turnaround,
            filled_at=self.stage.moment - timedelta(hours=14),
            reason="The tap room put the line on for the evening before anybody had sampled it. "
            "First glasses drawn off; the bar team was told.",
            password=DEMO_PASSWORDS["mara"],
            **turns.contents(vessel, "lager"),
        )

    def keg_run(self) -> Script:
        vessel, turns = self.brewery.vessels["Keg run"], self.turns
        yield from self.usual(vessel, 25, "08:40", "lager", "pale")
        plan = Plan(who="priya", hold="Meter B has no limits yet: nothing was judged")
        turnaround = yield from turns.empty(
            vessel, at=self.stage.at(METER_A_FAILS, "08:20"), beer="pale", plan=plan
        )
        yield from turns.clean(turnaround, begins=turns.after(20), plan=plan, meter="b")
        yield turns.after(10)
        yield turns.after(30)
        turns.decide(turnaround, "hold", plan=plan)
        yield self.stage.at(METER_A_FAILS - 1, "10:00")
        take_out_of_service(
            by=self.stage.by(turns.person("mara")),
            vessel=vessel,
            reason="Neck washer leaks; the part is ordered",
        )
