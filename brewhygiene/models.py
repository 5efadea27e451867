"""Where Django finds the tables: every room's models, in the order of the floors."""

from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature, User
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Beer, Emptying, Fill, HoldClock, SamplingPoint, Vessel
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
from brewhygiene.atp.models import ControlCheck, LimitSet, Meter, Result, StickLot, StickType
from brewhygiene.plates.models import Plate
from brewhygiene.release.models import Decision

__all__ = [
    "Agent",
    "Beer",
    "Brewery",
    "Clean",
    "ConductivityCalibration",
    "ControlCheck",
    "Decision",
    "Deviation",
    "Emptying",
    "Entry",
    "Fill",
    "HoldClock",
    "LimitSet",
    "Meter",
    "Plate",
    "Regime",
    "RegimeVersion",
    "Result",
    "SafetyAcknowledgement",
    "SamplingPoint",
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
