"""What a vessel's status and the checks of its release follow from: plain facts."""

import dataclasses
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from brewhygiene.cellar.by_date import ByDate
from brewhygiene.release.standing.paper import PaperRelease


@dataclasses.dataclass(frozen=True)
class HoldTimes:
    """The three hold times that apply to the vessel."""

    dirty: timedelta = timedelta(hours=24)
    clean: timedelta = timedelta(hours=24)
    sanitised: timedelta = timedelta(hours=4)


@dataclasses.dataclass(frozen=True)
class CleanFacts:
    pk: int
    is_clean: bool  # False for a re-sanitise
    regime: str
    started_at: datetime
    finished_at: datetime | None = None
    sanitised_at: datetime | None = None
    stopped_at: datetime | None = None
    # Sanitised before filling, on a released vessel; ``accepted``: with a deviation accepted.
    before_filling: bool = False
    accepted: bool = False


@dataclasses.dataclass(frozen=True)
class ResultFacts:
    """A result that no correction replaces.

    ``in_doubt_since`` is when its ``meter`` failed the control check that leaves it unjudged.
    """

    clean_pk: int
    point_pk: int
    point: str
    verdict: str
    rlu: int
    recorded_at: datetime
    in_doubt_since: datetime | None = None
    meter: str = ""


@dataclasses.dataclass(frozen=True)
class DecisionFacts:
    clean_pk: int | None
    outcome: str
    decided_at: datetime
    by: str
    reason: str = ""
    lapses_at: datetime | None = None
    by_meter: bool = True  # False where two people released without a working meter


@dataclasses.dataclass(frozen=True)
class AllergenFound:
    """A positive test after a clean, for an allergen that the next beer does not declare."""

    clean_pk: int
    allergen: str
    recorded_at: datetime


@dataclasses.dataclass(frozen=True)
class TurnaroundFacts:
    """What happened since the vessel was emptied, oldest first in each list.

    Where it was ``emptied_before_record``, nobody knows when, and ``emptied_at`` is when that
    was put on record, or the time on the ``paper`` that released it. ``inside`` is what a stopped
    clean left, in words: "Caustic liquor 50 %, hot".
    """

    pk: int
    emptied_at: datetime
    cleans: Sequence[CleanFacts] = ()
    results: Sequence[ResultFacts] = ()
    decisions: Sequence[DecisionFacts] = ()
    openings: Sequence[datetime] = ()
    emptied_before_record: bool = False
    paper: PaperRelease | None = None
    inside: str = ""
    entered_since: datetime | None = None
    entrants: str = ""
    allergen_found: AllergenFound | None = None


@dataclasses.dataclass(frozen=True)
class VesselFacts:
    """Everything that a vessel's status depends on, besides now."""

    name: str
    hold_times: HoldTimes = dataclasses.field(default_factory=HoldTimes)
    required_points: Mapping[int, str] = dataclasses.field(default_factory=dict)
    out_of_service_since: datetime | None = None
    out_of_service_reason: str = ""
    open_positive_since: datetime | None = None
    filled_at: datetime | None = None
    contents: str = ""
    filled_without_release: bool = False
    filled_before_record: bool = False
    turnaround: TurnaroundFacts | None = None
    by_date: ByDate | None = None  # where it is cleaned by date, as a draught line
