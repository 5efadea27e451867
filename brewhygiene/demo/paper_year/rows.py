"""The lines of the invented brewery's paper log, as plain data."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTestLot, ControlCheck, Meter
from brewhygiene.cellar.models import Beer, Fill, SamplingPoint, Vessel
from brewhygiene.people.models import User
from brewhygiene.regimes.models import RegimeVersion, Step, StepWindow


@dataclasses.dataclass(frozen=True)
class PaperReading:
    """A value in the unit of its quantity, or the basis of its window."""

    quantity: str
    value: float
    window: StepWindow | None = None
    reason: str = ""  # why it was accepted, where it was outside its window


@dataclasses.dataclass(frozen=True)
class PaperStep:
    """A step as it was run; ``missed`` says why its end was not reached, or it was left out."""

    step: Step
    minutes: float
    readings: Sequence[PaperReading] = ()
    agent_lot: str = ""
    left_out: bool = False
    missed: str = ""


@dataclasses.dataclass(frozen=True)
class PaperSwab:
    """A swab as it was read."""

    point: SamplingPoint
    meter: Meter
    lot: AtpTestLot
    rlu: int
    limits: LimitSet | None
    check: ControlCheck | None


@dataclasses.dataclass(frozen=True)
class PaperClean:
    """One clean and what was read after it."""

    version: RegimeVersion
    steps: Sequence[PaperStep]
    swabs: Sequence[PaperSwab]


@dataclasses.dataclass(frozen=True)
class PaperPlate:
    """A plate that was sent; ``organism`` is what grew, '' for nothing."""

    point: SamplingPoint
    organism: str = ""
    colonies: int = 0


@dataclasses.dataclass(frozen=True)
class PaperTurn:
    """A line of the log, from emptied to filled."""

    page: str
    vessel: Vessel
    emptied_at: datetime
    held: Fill | None
    beer_before: Beer
    beer: Beer
    batch: str
    who: User
    releases: User
    cleans: Sequence[PaperClean]
    plates: Sequence[PaperPlate] = ()
    cause: str = ""
    cause_note: str = ""
