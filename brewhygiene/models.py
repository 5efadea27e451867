"""Where Django finds the tables: every room's models, in the order of the floors."""

from brewhygiene.ledger.models import Binding, Entry, Head, Shape
from brewhygiene.people.models import Signature, User
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import (
    Beer,
    Emptying,
    Fill,
    HoldClock,
    PartWork,
    SamplingPoint,
    Vessel,
)
from brewhygiene.regimes.models import (
    Agent,
    ConductivityCalibration,
    Regime,
    RegimeVersion,
    Step,
    StepWindow,
)
from brewhygiene.turnarounds.models import (
    Clean,
    Deviation,
    SafetyAcknowledgement,
    StepReading,
    StepRecord,
    Trace,
    TraceMapping,
    Turnaround,
    VesselOpening,
)
from brewhygiene.atp.models import (
    Baseline,
    BaselineExclusion,
    Bridge,
    BridgePair,
    ChartPhase,
    ControlCheck,
    FoundCause,
    LimitSet,
    Meter,
    Result,
    StickLot,
    StickType,
)
from brewhygiene.plates.models import DishCount, Plate, PlateCorrection
from brewhygiene.release.models import Decision
from brewhygiene.trends.models import PointStanding

__all__ = [
    "Agent",
    "Baseline",
    "BaselineExclusion",
    "Beer",
    "Binding",
    "Brewery",
    "Bridge",
    "BridgePair",
    "ChartPhase",
    "Clean",
    "ConductivityCalibration",
    "ControlCheck",
    "Decision",
    "Deviation",
    "DishCount",
    "Emptying",
    "Entry",
    "Fill",
    "FoundCause",
    "Head",
    "HoldClock",
    "LimitSet",
    "Meter",
    "PartWork",
    "Plate",
    "PlateCorrection",
    "PointStanding",
    "Regime",
    "RegimeVersion",
    "Result",
    "SafetyAcknowledgement",
    "SamplingPoint",
    "Shape",
    "Signature",
    "Step",
    "StepReading",
    "StepRecord",
    "StepWindow",
    "StickLot",
    "StickType",
    "Trace",
    "TraceMapping",
    "Turnaround",
    "User",
    "Vessel",
    "VesselOpening",
]
