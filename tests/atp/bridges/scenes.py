"""A bridge study for tests, with invented pairs of a new meter that reads seven tenths."""

import random
from datetime import datetime, timedelta

from brewhygiene.atp.bridges import actions as bridge_actions
from brewhygiene.atp.bridges.actions import PairValues
from brewhygiene.atp.models.bridges import Bridge
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import Meter
from brewhygiene.people.models import User
from tests.factories import NOW, Cellar, acting, make_meter


def pairs(count: int = 40, *, factor: float = 0.7, noise: float = 0.07) -> list[PairValues]:
    """Levels spread evenly on the logarithm from 1 to about 250 RLU, both swabs straying."""
    chance = random.Random(4)
    found = []
    for place in range(count):
        level = 10 ** (2.4 * (place + 0.5) / count)
        found.append(
            PairValues(
                round(level * 10 ** chance.gauss(0, noise)),
                round(factor * level * 10 ** chance.gauss(0, noise)),
            )
        )
    return found


class Study:
    """A cellar with limits of 10 and 30 RLU on its meter, and a study of a new one."""

    def __init__(
        self, *, count: int = 40, now: datetime = NOW, cellar: Cellar | None = None
    ) -> None:
        self.now = now
        self.cellar = cellar or Cellar()
        self.new_meter: Meter = make_meter(name="New meter")
        self.bridge: Bridge = bridge_actions.open_bridge(
            by=self.by(self.cellar.brewer),
            reference_meter=self.cellar.meter,
            reference_atp_test=self.cellar.atp_test,
            new_meter=self.new_meter,
            new_atp_test=self.cellar.atp_test,
        )
        if count:
            self.add(pairs(count))

    def by(self, user: User):  # type: ignore[no-untyped-def]
        return acting(user, now=self.now)

    def add(self, rows: list[PairValues]) -> None:
        bridge_actions.add_pairs(by=self.by(self.cellar.hand), bridge=self.bridge, rows=rows)

    def propose(self, **values: object) -> LimitSet:
        return bridge_actions.propose_bridged_limits(
            by=self.by(self.cellar.brewer),
            bridge=self.bridge,
            **{  # type: ignore[arg-type]
                "reference_limits": self.cellar.limits,
                "review_on": self.now.date() + timedelta(days=90),
                **values,
            },
        )
