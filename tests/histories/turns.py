"""One turnaround, and one ATP test in it, that are to be written."""

import dataclasses
import random
import zlib
from datetime import datetime

from brewhygiene.atp.models.meters import AtpTestLot, Meter
from brewhygiene.cellar.models import SamplingPoint, Vessel

BATCH = 5_000


@dataclasses.dataclass(frozen=True)
class Turn:
    """One turnaround that is to be written: the ``number``-th (from 0) of its vessel."""

    vessel: Vessel
    number: int
    at: datetime  # emptied; cleaned 1 to 3 h later, sampled 3.5 h, released 4 h, filled 5 h later
    again: bool = False  # the second clean of the same turnaround
    place: int = 0  # of the vessel among those that are written

    def chance(self, of: str) -> random.Random:
        """Always the same chance for the same thing, whatever its vessel is called by serial."""
        name = f"{self.place} {self.number} {self.again} {of}"
        return random.Random(zlib.crc32(name.encode()))


@dataclasses.dataclass(frozen=True)
class Swab:
    """One swab that is to be read in a turn."""

    turn: Turn
    point: SamplingPoint
    meter: Meter
    lot: AtpTestLot
    place: int = 0  # of the point among those of its vessel

    @property
    def chance(self) -> random.Random:
        return self.turn.chance(f"point {self.place}")


def usual_rlu(swab: Swab, *, mean: float = 2.5, shape: float = 1.5) -> int:
    """A clean point's reading: negative binomial, with many zeros and a long tail."""
    chance = swab.chance
    lasting = chance.gammavariate(shape, mean / shape)
    # Poisson by counting waits: its mean is small.
    count, left = 0, lasting - chance.expovariate(1)
    while left > 0:
        count, left = count + 1, left - chance.expovariate(1)
    return count


class Picks:
    """What may be a value or a function of the turn."""

    def __init__(self, **given: object) -> None:
        self._given = given

    def of(self, name: str, turn: Turn):  # type: ignore[no-untyped-def]
        found = self._given[name]
        return found(turn) if callable(found) else found
