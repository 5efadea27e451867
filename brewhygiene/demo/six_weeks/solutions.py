"""The week of the solution tanks: made up on Monday, titrated on Thursday, dumped on Monday."""

from datetime import timedelta

from brewhygiene.demo.brewery import InventedBrewery
from brewhygiene.demo.skids import ACID_TANK, CAUSTIC_TANK, TANK_HL
from brewhygiene.demo.stage import Script, Stage
from brewhygiene.ledger.recording import Actor
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.regimes.library.agents import ACID_BLEND, CAUSTIC
from brewhygiene.regimes.models import Agent
from brewhygiene.skids.models import Solution, SolutionTank
from brewhygiene.skids.solutions import actions
from brewhygiene.skids.solutions.titration import TwoEndPoints

# By tank: the agent, its strength in % w/w, and kg as supplied in a tank of 6 hL.
MADE_OF = {CAUSTIC_TANK: (CAUSTIC, 2.0, 24.5), ACID_TANK: (ACID_BLEND, 1.0, 12.0)}
DAYS_AGO = 44
# mL to phenolphthalein and to methyl orange, of 0.5 eq/L on 10 mL of a solution used for days.
TITRATED_ML = (9.4, 10.6)


class Solutions:
    """Every week's deeds at the tanks, without a throw of the play's own dice."""

    def __init__(self, stage: Stage, brewery: InventedBrewery) -> None:
        self.stage = stage
        self.brewery = brewery

    def by(self) -> Actor:
        return Actor(user=self.brewery.people["jonas"], now=self.stage.moment, address="192.0.2.31")

    def scripts(self) -> list[Script]:
        return [self.tank(name) for name in MADE_OF]

    def tank(self, name: str) -> Script:
        """Renewed every seventh day at half past five, read in between."""
        standing: Solution | None = None
        for days_ago in range(DAYS_AGO, 0, -7):
            yield self.stage.at(days_ago, "05:30")
            if standing is not None:
                actions.dump(by=self.by(), solution=standing, reason="renewed")
            yield self.stage.moment + timedelta(minutes=20)
            standing = self._made_up(name)
            yield self.stage.at(days_ago - 3, "05:40")
            if name == CAUSTIC_TANK:
                first_ml, second_ml = TITRATED_ML
                given = TwoEndPoints(
                    first_ml=first_ml, second_ml=second_ml, titrant_eq_l=0.5, sample_ml=10
                )
                actions.check_solution(by=self.by(), solution=standing, strength=given)
            actions.check_solution(by=self.by(), solution=standing, soiled=False)

    def _made_up(self, name: str) -> Solution:
        agent, strength, amount_kg = MADE_OF[name]
        return actions.make_up(
            by=self.by(),
            tank=SolutionTank.objects.get(name=name),
            agent=Agent.objects.get(name=agent),
            agent_lot=f"{agent[0]}-{self.stage.moment:%y%m}",
            volume_l=TANK_HL * 100,
            strength=strength,
            basis="ww",
            source=ValueSource.CALCULATED,
            amount_kg=amount_kg,
        )
