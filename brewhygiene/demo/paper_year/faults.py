"""What went wrong in the invented brewery, as data: where, when and how much.

Days are counted back from the brewery's today. What a clean point reads, and how a fault adds
to it, is in :mod:`brewhygiene.demo.readings`.
"""

import dataclasses
from collections.abc import Collection
from enum import StrEnum

from brewhygiene.atp.models.causes import Cause

# The paper log's days: its first and last line.
PAPER_BEGINS, PAPER_ENDS = 410, 52
# Within these days nothing was wrong: limits are worked out from them.
BASELINE_BEGINS, BASELINE_ENDS = 411, 246


class Code(StrEnum):
    SPRAY = "spray"
    GASKET = "gasket"
    CAUSTIC = "caustic"
    STICKS = "sticks"
    METER = "meter"
    SEAT = "seat"


@dataclasses.dataclass(frozen=True)
class Fault:
    """One fault. Empty ``vessel``, ``point``, ``agent_lot`` and ``test_lot`` mean any.

    Soil that is left adds ``adds_rlu`` to the reading, in the middle; dim swabs or a dim meter
    show it ``times`` too small. From the day ``begins`` on; one that ``creeps`` grows evenly to
    its full size on the day ``ends``.
    """

    code: Code
    words: str
    begins: int
    ends: int
    adds_rlu: float = 0.0
    times: float = 1.0
    creeps: bool = False
    vessel: str = ""
    point: str = ""
    agent_lot: str = ""
    test_lot: str = ""

    def on_at(self, days_ago: float) -> bool:
        return self.ends < days_ago <= self.begins

    def share_at(self, days_ago: float) -> float:
        """How much of it is there, 0 to 1, on a day on which it is."""
        if not self.creeps:
            return 1.0
        return (self.begins - days_ago) / (self.begins - self.ends)

    def adds_at(self, days_ago: float) -> float:
        return self.adds_rlu * self.share_at(days_ago)

    def times_at(self, days_ago: float) -> float:
        return 1 - (1 - self.times) * self.share_at(days_ago)


CAUSTIC_LOT, SWAB_LOT = "C-0417", "S-0388"

FAULTS: tuple[Fault, ...] = (
    Fault(
        Code.CAUSTIC,
        "a weak caustic week: a drum of caustic liquor that had been diluted",
        begins=219,
        ends=211,
        adds_rlu=14,
        agent_lot=CAUSTIC_LOT,
    ),
    Fault(
        Code.GASKET,
        "a leaking manway gasket on BT 2, replaced at last",
        begins=200,
        ends=147,
        adds_rlu=18,
        vessel="BT 2",
        point="Manway gasket",
    ),
    Fault(
        Code.SPRAY,
        "the spray head of FV 4 fouling slowly, opened and cleaned at last",
        begins=190,
        ends=85,
        adds_rlu=22,
        creeps=True,
        vessel="FV 4",
    ),
    Fault(
        Code.STICKS,
        "a lot of surface swabs that stood in the warm: it reads low",
        begins=141,
        ends=118,
        times=0.2,
        test_lot=SWAB_LOT,
    ),
    Fault(
        Code.METER,
        "meter A growing dim, until it was sent away and meter B was used",
        begins=114,
        ends=94,
        times=0.7,
        creeps=True,
    ),
    Fault(
        Code.SEAT,
        "the seat of BT 1's sample valve wearing, every reading still clear; nobody looked yet",
        begins=80,
        ends=-1,
        adds_rlu=13,
        creeps=True,
        vessel="BT 1",
        point="Sample valve",
    ),
)


@dataclasses.dataclass(frozen=True)
class Slip:
    """One bad clean of one place, and what was found: ``left`` more cleans of its vessel follow."""

    vessel: str
    point: str
    left: int
    adds_rlu: float
    cause: Cause
    note: str


SLIPS: tuple[Slip, ...] = (
    Slip("FV 1", "Sample valve", 38, 130, Cause.VALVE, "Not pulsed during the caustic"),
    Slip("FV 5", "Racking arm", 33, 95, Cause.DRIED_SOIL, "Stood dirty over a weekend"),
    Slip("BT 1", "Sample valve", 29, 110, Cause.VALVE, "Not pulsed during the acid"),
    Slip("FV 1", "Sample valve", 25, 90, Cause.VALVE, "Not opened at all"),
    Slip("FV 3", "Last rinse at the cone", 20, 60, Cause.FLOW, "Pump on its lower setting"),
    Slip("HX 1", "Last rinse at the outlet", 11, 75, Cause.DRIED_SOIL, "Backflush left till noon"),
    Slip("FV 2", "Manway gasket", 4, 120, Cause.NOT_FOUND, "Taken apart, nothing seen"),
)
# Meter A is away on these days, and meter B is used.
METER_AWAY, METER_BACK = 94, 79


def faults_at(
    days_ago: float,
    *,
    vessel: str,
    point: str,
    test_lot: str,
    agent_lots: Collection[str],
) -> list[Fault]:
    """The faults that touch a reading."""
    return [
        fault
        for fault in FAULTS
        if fault.on_at(days_ago)
        and fault.vessel in ("", vessel)
        and fault.point in ("", point)
        and fault.test_lot in ("", test_lot)
        and (not fault.agent_lot or fault.agent_lot in agent_lots)
    ]


def slip_at(*, vessel: str, point: str, left: int) -> Slip | None:
    return next((s for s in SLIPS if (s.vessel, s.point, s.left) == (vessel, point, left)), None)


def fault_of(code: Code) -> Fault:
    return next(fault for fault in FAULTS if fault.code == code)
