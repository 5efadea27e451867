"""A brewhouse in which a beer with milk and one without go through the same gear."""

from datetime import date, timedelta
from typing import Any

from brewhygiene.cellar.models import Vessel
from brewhygiene.changeovers import actions
from brewhygiene.changeovers.models import AllergenTest, Validation
from brewhygiene.turnarounds.models import Turnaround
from tests.batches.scenes import Brewhouse
from tests.factories import PASSWORD, acting, make_beer


class Dairy(Brewhouse):
    """With a milk stout and a sour beside the pale."""

    def __init__(self) -> None:
        super().__init__()
        self.stout = make_beer(name="Brindle Stout (invented)", allergens=["milk"])
        self.sour = make_beer(name="Osk Sour (invented)", sour_or_mixed=True)

    def validated(self, hours: float = -50, **values: Any) -> Validation:
        now = self.at(hours)
        return actions.validate_changeover(
            **{
                "by": acting(self.brewer, now=now),
                "version": self.version,
                "allergen": "milk",
                "validated_on": now.date(),
                "report": "R 7, in the laboratory's folder",
                "tests": 3,
                "password": PASSWORD,
                **values,
            }
        )

    def tested(self, turnaround: Turnaround, hours: float, **values: Any) -> AllergenTest:
        now = self.at(hours)
        return actions.record_allergen_test(
            **{
                "by": acting(self.hand, now=now),
                "turnaround": turnaround,
                "allergen": "milk",
                "kind": "strip",
                "lot": "A1",
                "expires_on": date(2027, 1, 31),
                "result": "negative",
                "taken_at": now,
                **values,
            }
        )

    def proved(self, vessel: Vessel, hours: float, **values: Any) -> Turnaround:
        """Emptied at that hour, cleaned in 20 minutes, tested at 25, released at 40."""
        now = self.at(hours)
        turnaround = self.cleaned(now=now, vessel=vessel)
        self.tested(turnaround, hours + 25 / 60, **values)
        self.sampled(turnaround, now=now + timedelta(minutes=30))
        self.decided(turnaround, now=now + timedelta(minutes=40))
        return turnaround

    def had_stout(self, hours: float = 0) -> Turnaround:
        """The fermenter was filled with the stout, emptied 10 h later and cleaned."""
        self.brewed("S-1", hours, beer=self.stout)
        return self.cleaned(now=self.at(hours + 10), vessel=self.fv)
