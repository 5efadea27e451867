"""Every calculator, under what the brewer wants to know."""

import dataclasses

from brewhygiene.bench.calculators import Calculator
from brewhygiene.bench.conducting import (
    Compensation,
    FromConductivity,
    RinseEnd,
    SiteCalibration,
)
from brewhygiene.bench.costing import Cost
from brewhygiene.bench.flowing import LineFlow, Spray
from brewhygiene.bench.gas import CoolingVacuum, TankGas
from brewhygiene.bench.growing import Colonies, Tubes
from brewhygiene.bench.heating import ColdSteel, Heating, Held, Trace
from brewhygiene.bench.repeating import Repeats
from brewhygiene.bench.rinsing import PlugRinse, VesselRinse
from brewhygiene.bench.sanitisers import Halogen, Peracetic
from brewhygiene.bench.solutions import IntoWater, MakeUp, Strength
from brewhygiene.bench.tanks import Mix, SetRight, TopUp
from brewhygiene.bench.titrations import MixedAcid, OneEndPoint, UsedCaustic


@dataclasses.dataclass(frozen=True)
class Board:
    """A group of calculators under one heading."""

    title: str
    calculators: tuple[type[Calculator], ...]


SHELF = (
    Board("I am making or mending a solution", (MakeUp, IntoWater, SetRight, TopUp, Mix, Strength)),
    Board(
        "I want to know how strong it is",
        (
            OneEndPoint,
            UsedCaustic,
            MixedAcid,
            Peracetic,
            Halogen,
            FromConductivity,
            Compensation,
            SiteCalibration,
        ),
    ),
    Board("Is the tank safe?", (TankGas, CoolingVacuum)),
    Board("Is there enough flow?", (Spray, LineFlow)),
    Board("How much rinsing?", (RinseEnd, PlugRinse, VesselRinse)),
    Board("Is it hot enough, for long enough?", (Heating, ColdSteel, Held, Trace)),
    Board("What grew?", (Colonies, Tubes)),
    Board("Can I trust a reading?", (Repeats,)),
    Board("What does it cost?", (Cost,)),
)
BY_SLUG = {kind.slug: kind for board in SHELF for kind in board.calculators}
