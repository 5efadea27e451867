"""Every calculator, in its group."""

import dataclasses

from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.calculators.colonies import PlateCount, TubeCount
from brewhygiene.bench.calculators.conductivity import (
    Compensation,
    FromConductivity,
    RinseEnd,
    SiteCalibration,
)
from brewhygiene.bench.calculators.cost import Cost
from brewhygiene.bench.calculators.flow import LineFlow, Spray
from brewhygiene.bench.calculators.heat import (
    ColdSteel,
    Heating,
    LoggedTemperature,
    SteadyTemperature,
)
from brewhygiene.bench.calculators.repeatability import Repeatability
from brewhygiene.bench.calculators.rinse import PlugRinse, VesselRinse
from brewhygiene.bench.calculators.sanitisers import Halogen, Peracetic
from brewhygiene.bench.calculators.solution_tanks import CorrectStrength, Mix, TopUp
from brewhygiene.bench.calculators.solutions import IntoWater, MakeUp, Strength
from brewhygiene.bench.calculators.tank_gas import CoolingVacuum, TankGas
from brewhygiene.bench.calculators.titrations import MixedAcid, OneEndPoint, UsedCaustic


@dataclasses.dataclass(frozen=True)
class Group:
    """A group of calculators under one heading."""

    title: str
    calculators: tuple[type[Calculator], ...]


GROUPS = (
    Group("Making solutions", (MakeUp, IntoWater, CorrectStrength, TopUp, Mix, Strength)),
    Group(
        "Titration and strength",
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
    Group("Tank gas and vacuum", (TankGas, CoolingVacuum)),
    Group("Flow", (Spray, LineFlow)),
    Group("Rinse", (RinseEnd, PlugRinse, VesselRinse)),
    Group("Heat", (Heating, ColdSteel, SteadyTemperature, LoggedTemperature)),
    Group("Plates and tubes", (PlateCount, TubeCount)),
    Group("Repeatability", (Repeatability,)),
    Group("Cost", (Cost,)),
)
BY_SLUG = {kind.slug: kind for group in GROUPS for kind in group.calculators}
