"""Every calculator, under what the brewer wants to know."""

import dataclasses

from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.calculators.colonies import Colonies, Tubes
from brewhygiene.bench.calculators.conductivity import (
    Compensation,
    FromConductivity,
    RinseEnd,
    SiteCalibration,
)
from brewhygiene.bench.calculators.cost import Cost
from brewhygiene.bench.calculators.flow import LineFlow, Spray
from brewhygiene.bench.calculators.heat import ColdSteel, Heating, Held, Trace
from brewhygiene.bench.calculators.repeatability import Repeats
from brewhygiene.bench.calculators.rinse import PlugRinse, VesselRinse
from brewhygiene.bench.calculators.sanitisers import Halogen, Peracetic
from brewhygiene.bench.calculators.solution_tanks import Mix, SetRight, TopUp
from brewhygiene.bench.calculators.solutions import IntoWater, MakeUp, Strength
from brewhygiene.bench.calculators.tank_gas import CoolingVacuum, TankGas
from brewhygiene.bench.calculators.titrations import MixedAcid, OneEndPoint, UsedCaustic


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
