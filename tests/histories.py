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
import random
import zlib
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTestLot, ControlCheck, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import Beer, Emptying, Fill, SamplingPoint, Vessel
from brewhygiene.people.models import Signature, User
from brewhygiene.plates.models import Plate
from brewhygiene.regimes.models import Quantity, RegimeVersion, Step, StepWindow
from brewhygiene.release.models import Decision
from brewhygiene.science.judging import judge_rlu
from brewhygiene.turnarounds.models import (
    Clean,
    Deviation,
    StepReading,
    StepRecord,
    Turnaround,
    WindowVerdict,
)
from tests.factories import NOW, Cellar

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

    ``sampled`` leaves a stick out; ``again`` says whether a second clean follows, whose swabs
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
    pick = _Picks(
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
    made.turnarounds = _turnarounds(turns, pick, every=every)
    run = [(turn, made.turnarounds[n]) for n, turn in enumerate(turns)]
    second = [
        (dataclasses.replace(turn, again=True), t) for turn, t in run if pick.of("again", turn)
    ]
    run = sorted([*run, *second], key=lambda pair: (pair[1].pk, pair[0].again))
    made.cleans = _cleans(run, pick)
    turns_run = [turn for turn, _ in run]
    made.deviations = _steps(turns_run, made.cleans, pick, reading=reading)
    swabs = _swabs(turns_run, made.cleans, vessels, pick, sampled=sampled)
    checks = _checks(swabs, cellar, positive_rlu=positive_rlu)
    made.results = _results(swabs, checks, pick, rlu=rlu)
    made.plates = _plates(swabs, cellar, plate=plate)
    _decisions(turns_run, made.cleans, pick)
    return made


class _Picks:
    """What may be a value or a function of the turn."""

    def __init__(self, **given: object) -> None:
        self._given = given

    def of(self, name: str, turn: Turn):  # type: ignore[no-untyped-def]
        found = self._given[name]
        return found(turn) if callable(found) else found


def _turnarounds(turns: list[Turn], pick: _Picks, *, every: timedelta) -> list[Turnaround]:
    filled_after = min(timedelta(hours=5), every * 0.9)
    fills = Fill.objects.bulk_create(
        [
            Fill(
                vessel=turn.vessel,
                beer=pick.of("beer", turn),
                batch=f"{turn.vessel.name}-{turn.number}",
                volume_hl=turn.vessel.volume_hl * 0.9,
                filled_at=turn.at + filled_after,
                recorded_by=pick.of("cleaned_by", turn),
            )
            for turn in turns
        ],
        batch_size=BATCH,
    )
    emptyings = Emptying.objects.bulk_create(
        [
            Emptying(
                vessel=turn.vessel,
                fill=fills[n - 1] if turn.number else None,
                beer=fills[n - 1].beer if turn.number else pick.of("beer", turn),
                emptied_at=turn.at,
                recorded_by=pick.of("cleaned_by", turn),
            )
            for n, turn in enumerate(turns)
        ],
        batch_size=BATCH,
    )
    return Turnaround.objects.bulk_create(
        [
            Turnaround(
                vessel=turn.vessel,
                emptying=emptying,
                next_beer=fill.beer,
                opened_at=turn.at,
                closed_at=fill.filled_at,
                closing_fill=fill,
            )
            for turn, emptying, fill in zip(turns, emptyings, fills, strict=True)
        ],
        batch_size=BATCH,
    )


def _cleans(run: list[tuple[Turn, Turnaround]], pick: _Picks) -> list[Clean]:
    hour = timedelta(hours=1)
    return Clean.objects.bulk_create(
        [
            Clean(
                turnaround=turnaround,
                version=pick.of("version", turn),
                required_level=2,
                started_at=turn.at + hour * (3.7 if turn.again else 1),
                started_by=pick.of("cleaned_by", turn),
                finished_at=turn.at + hour * (3.8 if turn.again else 3),
                finished_by=pick.of("cleaned_by", turn),
                sanitised_at=turn.at + hour * (3.8 if turn.again else 3),
            )
            for turn, turnaround in run
        ],
        batch_size=BATCH,
    )


def _steps(
    turns: list[Turn],
    cleans: list[Clean],
    pick: _Picks,
    *,
    reading: Callable[[Turn, StepWindow], float | None],
) -> list[Deviation]:
    versions = {clean.version_id for clean in cleans}
    steps: dict[int, list[Step]] = {version: [] for version in versions}
    for step in Step.objects.filter(version__in=versions).prefetch_related("windows"):
        steps[step.version_id].append(step)
    rows = [
        (t, clean, s)
        for t, clean in zip(turns, cleans, strict=True)
        for s in steps[clean.version_id]
    ]
    records = StepRecord.objects.bulk_create(
        [
            StepRecord(
                clean=clean,
                step=step,
                started_at=clean.started_at,
                started_by=clean.started_by,
                ended_at=clean.finished_at,
                ended_by=clean.finished_by,
                end_criterion_met=True if step.end_criterion else None,
                agent_lot=pick.of("agent_lot", turn) if step.agent_id else "",
            )
            for turn, clean, step in rows
        ],
        batch_size=BATCH,
    )
    taken = [
        _reading(turn, record, window, reading=reading)
        for (turn, _, step), record in zip(rows, records, strict=True)
        for window in step.windows.all()
        if window.quantity != Quantity.TIME_MIN
    ]
    StepReading.objects.bulk_create(taken, batch_size=BATCH)
    return Deviation.objects.bulk_create(
        [
            Deviation(
                record=one.record,
                reading=one,
                kind=one.verdict,
                quantity=one.quantity,
                description=f"{one} is {WindowVerdict(one.verdict).label}"[:200],
                found_at=one.taken_at,
                disposition="accept",
                reason="Accepted (invented)",
                disposed_at=one.taken_at,
                disposed_by=one.taken_by,
            )
            for one in taken
            if one.verdict in (WindowVerdict.BELOW, WindowVerdict.ABOVE)
        ],
        batch_size=BATCH,
    )


def _reading(
    turn: Turn,
    record: StepRecord,
    window: StepWindow,
    *,
    reading: Callable[[Turn, StepWindow], float | None],
) -> StepReading:
    value = reading(turn, window)
    if value is None:
        bounds = [b for b in (window.minimum, window.maximum) if b is not None]
        value = sum(bounds) / len(bounds)
    verdict = WindowVerdict.WITHIN
    if window.minimum is not None and value < window.minimum:
        verdict = WindowVerdict.BELOW
    if window.maximum is not None and value > window.maximum:
        verdict = WindowVerdict.ABOVE
    return StepReading(
        record=record,
        quantity=window.quantity,
        value=value,
        basis=window.basis,
        typed=f"{value:g}",
        judged_value=value,
        verdict=verdict,
        taken_at=record.started_at + timedelta(minutes=2),
        taken_by=record.started_by,
    )


def _swabs(
    turns: list[Turn],
    cleans: list[Clean],
    vessels: Sequence[Vessel],
    pick: _Picks,
    *,
    sampled: Callable[[Swab], bool],
) -> list[tuple[Swab, Clean]]:
    points: dict[int, list[SamplingPoint]] = {vessel.pk: [] for vessel in vessels}
    of_vessels = SamplingPoint.objects.filter(vessel__in=points, active=True)
    for point in of_vessels.select_related("vessel"):
        points[point.vessel_id].append(point)
    swabs = [
        (Swab(turn, point, pick.of("meter", turn), pick.of("test_lot", turn), place), clean)
        for turn, clean in zip(turns, cleans, strict=True)
        for place, point in enumerate(points[turn.vessel.pk])
    ]
    return [(swab, clean) for swab, clean in swabs if sampled(swab)]


def _taken_at(swab: Swab) -> datetime:
    return swab.turn.at + timedelta(hours=3.9 if swab.turn.again else 3.5)


def _checks(
    swabs: list[tuple[Swab, Clean]],
    cellar: Cellar,
    *,
    positive_rlu: Callable[[Meter, datetime], int] | None,
) -> dict[tuple[int, object], ControlCheck]:
    days = {(swab.meter.pk, _taken_at(swab).date()): swab for swab, _ in swabs}
    checks = []
    for swab in days.values():
        meter, moment = swab.meter, _taken_at(swab) - timedelta(hours=3)
        middle = (meter.positive_min_rlu + meter.positive_max_rlu) // 2
        positive = positive_rlu(meter, moment) if positive_rlu else middle
        checks.append(
            ControlCheck(
                meter=meter,
                checked_at=moment,
                checked_on=_taken_at(swab).date(),
                blank_rlu=0,
                positive_rlu=positive,
                passed=meter.positive_within(positive),
                checked_by=cellar.hand,
            )
        )
    checks = ControlCheck.objects.bulk_create(
        sorted(checks, key=lambda check: check.checked_at), batch_size=BATCH
    )
    return {(check.meter_id, check.checked_on): check for check in checks}


def _results(
    swabs: list[tuple[Swab, Clean]],
    checks: dict[tuple[int, object], ControlCheck],
    pick: _Picks,
    *,
    rlu: Callable[[Swab], int],
) -> list[Result]:
    in_force = {
        (limits.meter_id, limits.atp_test_id, limits.point_id): limits
        for limits in LimitSet.objects.filter(approved_at__isnull=False, retired_at__isnull=True)
    }
    results = []
    for swab, clean in swabs:
        scale = (swab.meter.pk, swab.lot.atp_test_id)
        limits = in_force.get((*scale, swab.point.pk)) or in_force.get((*scale, None))
        read, moment = rlu(swab), _taken_at(swab)
        results.append(
            Result(
                turnaround=clean.turnaround,
                clean=clean,
                point=swab.point,
                meter=swab.meter,
                test_lot=swab.lot,
                control_check=checks[swab.meter.pk, moment.date()],
                limits=limits,
                rlu=read,
                verdict=judge_rlu(
                    rlu=read,
                    alert_rlu=limits.alert_rlu if limits else None,
                    action_rlu=limits.action_rlu if limits else None,
                ),
                stage="after_sanitiser",
                rinse_end="sanitiser_left",
                taken_at=moment,
                recorded_at=moment,
                recorded_by=pick.of("cleaned_by", swab.turn),
            )
        )
    return Result.objects.bulk_create(results, batch_size=BATCH)


def _plates(
    swabs: Iterable[tuple[Swab, Clean]],
    cellar: Cellar,
    *,
    plate: Callable[[Swab], str | None],
) -> list[Plate]:
    plates = []
    for swab, clean in swabs:
        state = plate(swab)
        if not state:
            continue
        moment = _taken_at(swab)
        due = moment + timedelta(days=7)
        read = state != "pending"
        grown = swab.turn.chance("colonies").randint(2, 40) if state == "positive" else None
        plates.append(
            Plate(
                vessel=swab.turn.vessel,
                turnaround=clean.turnaround,
                point=swab.point,
                medium="WLN",
                incubation_c=28,
                incubation_days=7,
                taken_at=moment,
                due_on=due.date(),
                sent_by=cellar.hand,
                state=state,
                colonies=grown,
                organism="wild yeast" if state == "positive" else "",
                read_at=due if read else None,
                read_by=cellar.brewer if read else None,
            )
        )
    return Plate.objects.bulk_create(plates, batch_size=BATCH)


def _decisions(turns: list[Turn], cleans: list[Clean], pick: _Picks) -> None:
    """Every last clean of a turnaround is released; one that was cleaned again was held before."""
    rows = []
    for n, (turn, clean) in enumerate(zip(turns, cleans, strict=True)):
        held = n + 1 < len(turns) and turns[n + 1].again
        rows.append((turn, clean, held))
    signatures = Signature.objects.bulk_create(
        [
            Signature(
                user=pick.of("released_by", turn),
                printed_name=pick.of("released_by", turn).full_name,
                meaning="Hold" if held else "Release",
                signed_at=turn.at + timedelta(hours=3.6 if held else 4),
            )
            for turn, _, held in rows
        ],
        batch_size=BATCH,
    )
    Decision.objects.bulk_create(
        [
            Decision(
                turnaround=clean.turnaround,
                clean=clean,
                outcome="hold" if held else "release",
                decided_at=signature.signed_at,
                signature=signature,
                reason="Clean it again (invented)" if held else "",
                gates=[],
                lapses_at=None if held else signature.signed_at + timedelta(hours=4),
                self_release=pick.of("cleaned_by", turn) == pick.of("released_by", turn),
            )
            for (turn, clean, held), signature in zip(rows, signatures, strict=True)
        ],
        batch_size=BATCH,
    )
