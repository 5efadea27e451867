"""Turnarounds with their fills, cleans, steps and readings, straight into the tables."""

from collections.abc import Callable
from datetime import timedelta

from brewhygiene.cellar.models import Emptying, Fill
from brewhygiene.regimes.models import Quantity, Step, StepWindow
from brewhygiene.turnarounds.models import (
    Clean,
    Deviation,
    StepReading,
    StepRecord,
    Turnaround,
    WindowVerdict,
)
from tests.histories.turns import BATCH, Picks, Turn


def write_turnarounds(turns: list[Turn], pick: Picks, *, every: timedelta) -> list[Turnaround]:
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


def write_cleans(run: list[tuple[Turn, Turnaround]], pick: Picks) -> list[Clean]:
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


def write_steps(
    turns: list[Turn],
    cleans: list[Clean],
    pick: Picks,
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
