"""Where Django finds the tables: every room's models, in the order of the floors."""

from brewhygiene.ledger.models import Binding, Entry, Head, Shape
from brewhygiene.people.models import PinWait, Signature, Tablet, User
from brewhygiene.brewery.models import Brewery
from brewhygiene.delivery.models import Arrival, SetAside
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
from brewhygiene.regimes.materials.models import MaterialLabel, SignedLimits
from brewhygiene.skids.models import (
    GearRinse,
    Skid,
    Solution,
    SolutionCheck,
    SolutionTank,
    SolutionTopUp,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.models.entries import EntryPermit
from brewhygiene.turnarounds.models.flow import FlowLoss
from brewhygiene.turnarounds.models.observations import StepPhoto
from brewhygiene.turnarounds.models.starts import VesselStart
from brewhygiene.turnarounds.models import (
    Clean,
    SafetyAcknowledgement,
    StepReading,
    StepRecord,
    LoggerFile,
    LoggerMapping,
    Turnaround,
    VesselOpening,
)
from brewhygiene.changeovers.models import AllergenTest, Validation
from brewhygiene.atp.models.baselines import Baseline, BaselineExclusion
from brewhygiene.atp.models.bridges import Bridge, BridgePair
from brewhygiene.atp.models.phases import ChartPhase
from brewhygiene.atp.models.meters import ControlCheck, Meter, AtpTestLot, AtpTest
from brewhygiene.atp.models.causes import FoundCause
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.models.recovery import RecoveryStudy
from brewhygiene.plates.models import DishCount, Plate, PlateCorrection
from brewhygiene.plates.closing.models import PlateClosing
from brewhygiene.release.models import Decision
from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.lots import Customer, Lot, RecallDrill, Shipment
from brewhygiene.batches.models.corrections import (
    BrewCorrection,
    HoldNote,
    MovementCorrection,
    ShipmentCorrection,
)
from brewhygiene.batches.models.dumps import Dump
from brewhygiene.batches.models.movements import Movement, Touch
from brewhygiene.batches.models.holds import Hold, HoldDecision
from brewhygiene.trends.models import PointStanding
from brewhygiene.board.handovers.models import Handover, HandoverRead

__all__ = [
    "Agent",
    "AllergenTest",
    "Arrival",
    "AtpTest",
    "AtpTestLot",
    "Baseline",
    "BaselineExclusion",
    "Batch",
    "BatchFill",
    "Beer",
    "Binding",
    "BrewCorrection",
    "Brewery",
    "Bridge",
    "BridgePair",
    "ChartPhase",
    "Clean",
    "ConductivityCalibration",
    "ControlCheck",
    "Customer",
    "Decision",
    "Deviation",
    "DishCount",
    "Dump",
    "Emptying",
    "Entry",
    "EntryPermit",
    "Fill",
    "FlowLoss",
    "FoundCause",
    "GearRinse",
    "Handover",
    "HandoverRead",
    "Head",
    "Hold",
    "HoldClock",
    "HoldDecision",
    "HoldNote",
    "LimitSet",
    "LoggerFile",
    "LoggerMapping",
    "Lot",
    "MaterialLabel",
    "Meter",
    "Movement",
    "MovementCorrection",
    "PartWork",
    "PinWait",
    "Plate",
    "PlateClosing",
    "PlateCorrection",
    "PointStanding",
    "RecallDrill",
    "RecoveryStudy",
    "Regime",
    "RegimeVersion",
    "Result",
    "SafetyAcknowledgement",
    "SamplingPoint",
    "SetAside",
    "Shape",
    "Shipment",
    "ShipmentCorrection",
    "Signature",
    "SignedLimits",
    "Skid",
    "Solution",
    "SolutionCheck",
    "SolutionTank",
    "SolutionTopUp",
    "Step",
    "StepPhoto",
    "StepReading",
    "StepRecord",
    "StepWindow",
    "Tablet",
    "Touch",
    "Turnaround",
    "User",
    "Validation",
    "Vessel",
    "VesselOpening",
    "VesselStart",
    "YeastCrop",
]
