"""The invented changeover: oats taken out of the serving tank, with a test that shows it.

The beer after it is dry-hopped in the tank.
"""

from datetime import timedelta

from brewhygiene.batches.dry_hops.actions import dry_hop
from brewhygiene.cellar.allergens import Allergen
from brewhygiene.changeovers.actions import record_allergen_test, validate_changeover
from brewhygiene.changeovers.models import Finding, HowTested
from brewhygiene.demo.brewery import InventedBrewery
from brewhygiene.demo.people import DEMO_PASSWORDS
from brewhygiene.demo.six_weeks.turns import Plan, Turns
from brewhygiene.demo.stage import Script, Stage
from brewhygiene.release.actions import fill_vessel
from brewhygiene.turnarounds.models import Turnaround

# So that what is played here throws none of the play's own dice.
DICE = 20260704
REGIME = "Fermenter, hot caustic"
PRIYA = Plan(who="priya")


class Changeover:
    """An oat stout in the serving tank, a beer without oats after it, and the stout again."""

    def __init__(self, stage: Stage, brewery: InventedBrewery) -> None:
        self.stage = stage.aside(DICE)
        self.brewery = brewery
        self.turns = Turns(self.stage, brewery)

    def scripts(self) -> list[Script]:
        return [self.serving_tank()]

    def serving_tank(self) -> Script:
        """Its clean is validated first; then the test after it lets the pale in."""
        turns, vessel = self.turns, self.brewery.vessels["ST 1"]
        yield self.stage.at(36, "15:30")
        validate_changeover(
            by=self.stage.by(turns.person("mara")),
            version=self.brewery.version(REGIME),
            allergen=Allergen.OATS,
            validated_on=self.stage.moment.astimezone(self.stage.zone).date(),
            report="Folder V-2: four cleans after oat stout, rinse and valve each time",
            tests=4,
            password=DEMO_PASSWORDS["mara"],
        )
        turnaround = yield from turns.empty(
            vessel, at=self.stage.at(31, "13:00"), holds="oat", beer="pale", plan=PRIYA
        )
        yield from turns.clean(turnaround, begins=turns.after(30), plan=PRIYA)
        yield turns.after(15)
        record_allergen_test(
            by=self.stage.by(turns.person("priya")),
            turnaround=turnaround,
            allergen=Allergen.OATS,
            kind=HowTested.STRIP,
            lot="GL-2207",
            expires_on=(self.stage.now + timedelta(days=210)).date(),
            result=Finding.NEGATIVE,
            taken_at=self.stage.moment,
            note="Gluten strip, last rinse at the outlet",
        )
        yield turns.after(20)
        turns.decide(turnaround, "release")
        yield turns.after(40)
        self._fill(turnaround, beer="pale", batch="P-07")
        yield self.stage.at(28, "10:10")
        dry_hop(
            by=self.stage.by(turns.person("priya")),
            vessel=vessel,
            hops="2 kg pellets, lot HP-3316",
            hopped_at=self.stage.moment,
            through=(self.brewery.vessels["Hop doser"],),
        )
        turnaround = yield from turns.empty(vessel, at=self.stage.at(4, "12:20"), beer="oat")
        yield from turns.clean(turnaround, begins=turns.after(30))
        yield turns.after(25)
        turns.decide(turnaround, "release")
        yield turns.after(40)
        self._fill(turnaround, beer="oat", batch="P-08")

    def _fill(self, turnaround: Turnaround, *, beer: str, batch: str) -> None:
        """With a pilot batch, which is numbered apart."""
        fill_vessel(
            by=self.stage.by(self.turns.person("priya")),
            turnaround=turnaround,
            beer=self.brewery.beers[beer],
            batch=batch,
            volume_hl=4.5,
            filled_at=self.stage.moment,
        )
