"""The invented brewery's today: every status once, whatever the hour it is looked at."""

from brewhygiene.demo import cleaning
from brewhygiene.demo.brewery import InventedBrewery
from brewhygiene.demo.six_weeks.history import SAMPLE_VALVE
from brewhygiene.demo.six_weeks.logger_file import send_file
from brewhygiene.demo.six_weeks.turns import Plan, Turns
from brewhygiene.demo.stage import Script, Stage
from brewhygiene.regimes.models import StepKind


class Today:
    """What was begun and is not finished. Times are minutes before now."""

    def __init__(self, stage: Stage, brewery: InventedBrewery) -> None:
        self.stage = stage
        self.brewery = brewery
        self.turns = Turns(stage, brewery)

    def scripts(self) -> list[Script]:
        return [
            self.cleaning(),
            self.held(),
            self.late(),
            self.to_decide(),
            self.released(),
            self.lapsed(),
            self.to_sample(),
            self.empty(),
        ]

    def cleaning(self) -> Script:
        """FV 2: the caustic is on, and has been read."""
        turns, plan = self.turns, Plan(who="priya")
        turnaround = yield from turns.empty(
            self.brewery.vessels["FV 2"], at=self.stage.ago(75), beer="lager", plan=plan
        )
        yield self.stage.ago(40)
        clean = turns.start(turnaround, plan=plan)
        yield from cleaning.until(
            self.stage,
            clean,
            who=turns.person("priya"),
            begins=self.stage.ago(37),
            kind=StepKind.CAUSTIC,
        )

    def held(self) -> Script:
        """FV 3: over the action limit after a sour, held at once."""
        turns = self.turns
        plan = Plan(
            rlu={SAMPLE_VALVE: 182, "Racking arm": 11, "Manway gasket": 13},
            plate="Racking arm",
            note="Gaskets of this vessel are kept apart",
        )
        turnaround = yield from turns.empty(
            self.brewery.vessels["FV 3"], at=self.stage.ago(385), beer="sour", plan=plan
        )
        yield from turns.clean(turnaround, begins=self.stage.ago(360), plan=plan)
        yield from turns.send(turnaround, begins=self.stage.ago(135), plan=plan)

    def late(self) -> Script:
        """FV 4: emptied of a saison yesterday, and nobody has begun to clean it."""
        yield from self.turns.empty(
            self.brewery.vessels["FV 4"], at=self.stage.ago(31 * 60), beer="lager"
        )

    def to_decide(self) -> Script:
        """FV 5: sampled, with an alert that has its explanation."""
        turns = self.turns
        plan = Plan(
            rlu={SAMPLE_VALVE: 19},
            notes={SAMPLE_VALVE: "New valve seat, first turn; looked clean when taken apart"},
            plate=SAMPLE_VALVE,
        )
        turnaround = yield from turns.empty(
            self.brewery.vessels["FV 5"], at=self.stage.ago(285), beer="lager", plan=plan
        )
        yield from turns.clean(turnaround, begins=self.stage.ago(250), plan=plan)
        yield turns.after(4)
        jonas = turns.person(plan.who)
        send_file(self.stage, turnaround.cleans.get(), who=jonas)
        yield from turns.send(turnaround, begins=self.stage.ago(92), plan=plan)

    def released(self) -> Script:
        """BT 1: ready to be filled."""
        turns, plan = self.turns, Plan(who="priya")
        turnaround = yield from turns.empty(
            self.brewery.vessels["BT 1"], at=self.stage.ago(270), beer="pale", plan=plan
        )
        yield from turns.clean(turnaround, begins=self.stage.ago(240), plan=plan)
        yield from turns.send(turnaround, begins=self.stage.ago(130), plan=plan)
        yield self.stage.ago(55)
        turns.decide(turnaround, "release")

    def lapsed(self) -> Script:
        """BT 2: released yesterday and never filled."""
        turns = self.turns
        turnaround = yield from turns.empty(
            self.brewery.vessels["BT 2"], at=self.stage.ago(27 * 60), beer="lager"
        )
        yield from turns.clean(turnaround, begins=self.stage.ago(26.4 * 60))
        yield from turns.send(turnaround, begins=self.stage.ago(24.5 * 60))
        yield self.stage.ago(24 * 60)
        turns.decide(turnaround, "release")

    def to_sample(self) -> Script:
        """YV 1: the clean has ended, and nobody sampled at its sample step."""
        turns = self.turns
        turnaround = yield from turns.empty(
            self.brewery.vessels["YV 1"], at=self.stage.ago(215), beer="pale"
        )
        yield from turns.clean(turnaround, begins=self.stage.ago(190), sampled=False)

    def empty(self) -> Script:
        """Hose set A: not late yet."""
        yield from self.turns.empty(
            self.brewery.vessels["Hose set A"], at=self.stage.ago(130), beer="pale"
        )
