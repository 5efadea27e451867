"""Invented years of cleaning, written straight into the tables: many turnarounds, few queries.

``make_history(cellar=Cellar(points=3), cleans=40)`` gives the cellar's vessel forty closed
turnarounds, one a week, the last a week before ``until`` (the factories' ``NOW``): each emptied,
cleaned by every step of its regime version with readings within their windows, sampled at every
active point, released under a signature and filled. What was read is judged by the limits in
force, so the rows are as the verbs would have left them, only without ledger entries.

Whatever may differ from turnaround to turnaround is given as a value or as a function of the
:class:`Turn`; a number read, as a function of a :class:`Swab`. So a fault is a function of time::

    def rlu(swab: Swab) -> int:
        leaking = swab.point == gasket and swab.turn.number >= 30
        return usual_rlu(swab) * 4 + 6 if leaking else usual_rlu(swab)

    make_history(
        cellar=cellar,
        vessels=[make_vessel(points=3) for _ in range(5)],
        cleans=60,
        every=timedelta(days=5),
        rlu=rlu,
        test_lot=lambda turn: old if turn.number < 20 else new,
        agent_lot=lambda turn: f"C-{turn.at:%y%m}",
        plate=lambda swab: "positive" if swab.turn.number == 31 else "",
    )
"""

import dataclasses
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from brewhygiene.atp.models.meters import AtpTestLot, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import Beer, SamplingPoint, Vessel
from brewhygiene.people.models import User
from brewhygiene.plates.models import Plate
from brewhygiene.regimes.models import RegimeVersion, StepWindow
from brewhygiene.turnarounds.models import (
    Clean,
    Deviation,
    Turnaround,
)
from tests.factories import NOW, Cellar
from tests.histories.cleaning import write_cleans, write_steps, write_turnarounds
from tests.histories.turns import Picks, Swab, Turn, usual_rlu
from tests.histories.verdicts import (
    swabs_of,
    write_checks,
    write_decisions,
    write_plates,
    write_readings,
)


@dataclasses.dataclass
class History:
    """What was written, each in the order of time within its vessel."""

    turnarounds: list[Turnaround] = dataclasses.field(default_factory=list)
    cleans: list[Clean] = dataclasses.field(default_factory=list)
    results: list[Result] = dataclasses.field(default_factory=list)
    plates: list[Plate] = dataclasses.field(default_factory=list)
    deviations: list[Deviation] = dataclasses.field(default_factory=list)

    def of(self, point: SamplingPoint) -> list[Result]:
        """The results of one point."""
        return [result for result in self.results if result.point == point]


def make_history(
    *,
    cellar: Cellar,
    vessels: Sequence[Vessel] = (),
    cleans: int = 40,
    every: timedelta = timedelta(days=7),
    until: datetime = NOW,
    rlu: Callable[[Swab], int] = usual_rlu,
    sampled: Callable[[Swab], bool] = lambda swab: True,
    again: bool | Callable[[Turn], bool] = False,
    meter: Meter | Callable[[Turn], Meter] | None = None,
    test_lot: AtpTestLot | Callable[[Turn], AtpTestLot] | None = None,
    version: RegimeVersion | Callable[[Turn], RegimeVersion] | None = None,
    beer: Beer | Callable[[Turn], Beer] | None = None,
    cleaned_by: User | Callable[[Turn], User] | None = None,
    released_by: User | Callable[[Turn], User] | None = None,
    agent_lot: str | Callable[[Turn], str] = "",
    reading: Callable[[Turn, StepWindow], float | None] = lambda turn, window: None,
    plate: Callable[[Swab], str | None] = lambda swab: None,
    positive_rlu: Callable[[Meter, datetime], int] | None = None,
) -> History:
    """Write the history of some vessels (the cellar's own where none is named).

    ``sampled`` leaves a swab out; ``again`` says whether a second clean follows, whose swabs
    have ``turn.again``; ``reading`` is a step's reading where it is not the middle of its window
    (one outside leaves an accepted deviation); ``plate`` is "negative", "positive", "pending" or
    nothing sent; ``positive_rlu`` what a meter's control read that day, of which each meter has
    one a day. ``beer`` is what the vessel is filled with at the end of a turn.

    14 queries, and more where the rows do not fit into one statement of the database.
    """
    vessels = list(vessels) or [cellar.vessel]
    first = until - every * cleans
    turns = [
        Turn(vessel, n, first + every * n, place=place)
        for place, vessel in enumerate(vessels)
        for n in range(cleans)
    ]
    pick = Picks(
        meter=meter or cellar.meter,
        test_lot=test_lot or cellar.lot,
        version=version or cellar.version,
        beer=beer or cellar.pale,
        cleaned_by=cleaned_by or cellar.hand,
        released_by=released_by or cellar.brewer,
        agent_lot=agent_lot,
        again=again,
    )
    made = History()
    made.turnarounds = write_turnarounds(turns, pick, every=every)
    run = [(turn, made.turnarounds[n]) for n, turn in enumerate(turns)]
    second = [
        (dataclasses.replace(turn, again=True), t) for turn, t in run if pick.of("again", turn)
    ]
    run = sorted([*run, *second], key=lambda pair: (pair[1].pk, pair[0].again))
    made.cleans = write_cleans(run, pick)
    turns_run = [turn for turn, _ in run]
    made.deviations = write_steps(turns_run, made.cleans, pick, reading=reading)
    swabs = swabs_of(turns_run, made.cleans, vessels, pick, sampled=sampled)
    checks = write_checks(swabs, cellar, positive_rlu=positive_rlu)
    made.results = write_readings(swabs, checks, pick, rlu=rlu)
    made.plates = write_plates(swabs, cellar, plate=plate)
    write_decisions(turns_run, made.cleans, pick)
    return made


__all__ = ["History", "Swab", "Turn", "make_history", "usual_rlu"]
