"""A logger file read and judged against its clean, as plain data that is kept with the file.

Nothing here writes. The file is read twice, part by part: once for its phases, once for what
each step shows.
"""

import hashlib
import zoneinfo
from collections.abc import Mapping as JsonObject
from collections.abc import Sequence
from datetime import datetime
from typing import Any, BinaryIO

from brewhygiene.brewery.models import Brewery
from brewhygiene.regimes.models import Basis, EndCriterion, Quantity, Step, StepKind
from brewhygiene.science.logger.buckets import Thinned
from brewhygiene.science.logger.dialect import Dialect
from brewhygiene.science.logger.evaluating import Evaluation, RinseRule, evaluate
from brewhygiene.science.logger.mapping import Mapping
from brewhygiene.science.logger.reading import LoggerFileReader
from brewhygiene.science.logger.spans import Span, SpanResult, measure
from brewhygiene.science.logger.units import QUANTITIES
from brewhygiene.science.logger.windows import Bound, WindowResult
from brewhygiene.science.tank.lethality import A0, F0, PASTEURISATION
from brewhygiene.turnarounds.contact import FLOWS
from brewhygiene.turnarounds.logger.placing import (
    NONE,
    Attempt,
    attempts_of,
    phases_of,
    propose_choices,
    seconds_of,
)
from brewhygiene.turnarounds.models import LARGEST_TRACE_BYTES, Clean
from brewhygiene.turnarounds.progress import progress_of

HASH_BYTES = 1024 * 1024
# A quarter of what the command line takes: a little slower, and 40 MB less of the server's memory.
PART_BYTES = 1024 * 1024
PLOTTED = (Quantity.TEMPERATURE_C, Quantity.FLOW_L_MIN, Quantity.CONDUCTIVITY_MS_CM)
REFERENCES = (PASTEURISATION, A0, F0)
RINSES = (StepKind.PRE_RINSE, StepKind.RINSE)


def sha256_of(file: BinaryIO) -> str:
    """The SHA-256 of an open file, which stands at its start again afterwards."""
    digest = hashlib.sha256()
    file.seek(0)
    while part := file.read(HASH_BYTES):
        digest.update(part)
    file.seek(0)
    return digest.hexdigest()


def _reader(file: BinaryIO, *, mapping: Mapping, dialect: Dialect) -> LoggerFileReader:
    return LoggerFileReader(
        file,
        mapping=mapping,
        dialect=dialect,
        largest_bytes=LARGEST_TRACE_BYTES,
        part_bytes=PART_BYTES,
    )


def first_look(
    file: BinaryIO, *, mapping: Mapping, dialect: Dialect, brewery: Brewery
) -> dict[str, Any]:
    """What a file shows by itself: its start, rows, coverage, phases and thinned readings.

    A logger that gives no offset from UTC is taken to keep the brewery's own time. Raises
    :class:`~brewhygiene.science.logger.problems.LoggerFileUnreadable`.
    """
    found = evaluate(_reader(file, mapping=mapping, dialect=dialect), references=())
    start = found.start
    if start is not None and start.tzinfo is None:
        start = start.replace(tzinfo=zoneinfo.ZoneInfo(brewery.time_zone))
    return {
        "starts_at": start.isoformat() if start is not None else None,
        "duration_s": found.duration_s,
        "max_gap_s": found.max_gap_s,
        "rows": {
            "kept": found.tally.kept,
            "duplicates": found.tally.duplicates,
            "backwards": found.tally.backwards,
            "without_time": found.tally.without_time,
        },
        "coverage": _coverage(found),
        "phases": [
            {
                "kind": phase.kind,
                "from_s": phase.from_s,
                "until_s": min(phase.until_s, found.duration_s),
                "means": {name: round(mean, 4) for name, mean in phase.means.items()},
            }
            for phase in found.phases
        ],
        "plots": {
            quantity: _plot(found.plots[quantity])
            for quantity in PLOTTED
            if quantity in found.plots and len(found.plots[quantity].seconds)
        },
        "steps": [],
    }


def _coverage(found: Evaluation) -> dict[str, Any]:
    return {
        quantity: {
            "readings": each.readings,
            "longest_gap_min": round(each.longest_gap_min, 3),
            "gap_count": each.gap_count,
            "least": each.extremes.least if each.extremes else None,
            "greatest": each.extremes.greatest if each.extremes else None,
        }
        for quantity, each in found.coverage.items()
    }


def _plot(thinned: Thinned) -> dict[str, list[float]]:
    return {
        "s": [round(second, 1) for second in thinned.seconds.tolist()],
        "v": [round(value, 3) for value in thinned.values.tolist()],
        "gaps": [place for place, gap in enumerate(thinned.gap_before.tolist()) if gap],
    }


def place_steps(
    evaluation: dict[str, Any],
    file: BinaryIO,
    *,
    clean: Clean,
    mapping: Mapping,
    dialect: Dialect,
    now: datetime,
    choices: JsonObject[int, str] | None = None,
    starts_at: datetime | None = None,
    rinse_end_ms_cm: float | None = None,
) -> dict[str, Any]:
    """``evaluation`` with what the file shows in each step's stretch of it.

    ``clean`` as loaded by ``queries.cleans_with_records``; ``choices`` by record, proposed where
    not given; ``starts_at`` sets the moment of the first row; ``rinse_end_ms_cm`` is today's tap
    with a little allowance, mS/cm, above 0. Raises
    :class:`~brewhygiene.science.logger.problems.LoggerFileUnreadable`.
    """
    evaluation = dict(evaluation)
    if starts_at is not None:
        evaluation["starts_at"] = starts_at.isoformat()
    kept = evaluation["starts_at"]
    attempts = attempts_of(
        progress_of(clean),
        starts_at=datetime.fromisoformat(kept) if kept else None,
        duration_s=evaluation["duration_s"],
        now=now,
    )
    phases = phases_of(evaluation)
    proposed = propose_choices(attempts, phases)
    chosen = [
        (attempt, (choices or {}).get(attempt.record.pk, proposed[attempt.record.pk]))
        for attempt in attempts
    ]
    placed: list[tuple[Attempt, str, tuple[float, float]]] = []
    for attempt, choice in chosen:
        stretch = seconds_of(choice, attempt, phases)
        if stretch is not None:
            placed.append((attempt, choice, stretch))
    measured = _measured(
        file, placed, mapping=mapping, dialect=dialect, rinse_end_ms_cm=rinse_end_ms_cm
    )
    evaluation["rinse_end_ms_cm"] = rinse_end_ms_cm
    evaluation["steps"] = [
        measured.get(attempt.record.pk)
        or {"record": attempt.record.pk, "step": attempt.step.pk, "choice": NONE}
        for attempt, _ in chosen
    ]
    return evaluation


def _measured(
    file: BinaryIO,
    placed: Sequence[tuple[Attempt, str, tuple[float, float]]],
    *,
    mapping: Mapping,
    dialect: Dialect,
    rinse_end_ms_cm: float | None,
) -> dict[int, dict[str, Any]]:
    if not placed:
        return {}
    spans = [
        Span(
            *stretch,
            bounds=bounds_of(attempt.step),
            followed=FLOWS,
            rinse=_rinse_rule(attempt.step, rinse_end_ms_cm),
        )
        for attempt, _, stretch in placed
    ]
    results = measure(
        _reader(file, mapping=mapping, dialect=dialect), spans=spans, references=REFERENCES
    )
    return {
        attempt.record.pk: {
            "record": attempt.record.pk,
            "step": attempt.step.pk,
            "choice": choice,
            **_result(result),
        }
        for (attempt, choice, _), result in zip(placed, results, strict=True)
    }


def bounds_of(step: Step) -> tuple[Bound, ...]:
    """The windows of a step that a logger can tell of; reads prefetched windows.

    A logged strength is % w/w: it is not held against another basis.
    """
    return tuple(
        Bound(window.quantity, window.minimum, window.maximum)
        for window in step.windows.all()
        if window.quantity in QUANTITIES and window.basis in ("", Basis.WW)
    )


def _rinse_rule(step: Step, rinse_end_ms_cm: float | None) -> RinseRule | None:
    """By the step's own bound on conductivity, or by the tap's of the day."""
    if step.kind not in RINSES:
        return None
    window = next(
        (w for w in step.windows.all() if w.quantity == Quantity.CONDUCTIVITY_MS_CM), None
    )
    end = window.maximum if window is not None and window.maximum else rinse_end_ms_cm
    return RinseRule(end) if end else None


def asks_tap(step: Step) -> bool:
    """Whether the end of a step is told by the tap's conductivity of the day."""
    return step.end_criterion == EndCriterion.TAP_CONDUCTIVITY


def _window(result: WindowResult) -> dict[str, Any]:
    return {
        "minutes_inside": result.minutes_inside,
        "minutes_known": result.minutes_known,
        "longest_run_min": result.longest_run.length_s / 60 if result.longest_run else 0.0,
    }


def _result(result: SpanResult) -> dict[str, Any]:
    seen = {}
    for quantity, each in result.seen.items():
        extremes = each.extremes.get(quantity)
        last = result.last.get(quantity)
        seen[quantity] = {
            "readings": each.readings,
            "minutes_known": each.minutes_known,
            "longest_gap_min": each.longest_gap_min,
            "least": [extremes.least, extremes.least_at_s] if extremes else None,
            "greatest": [extremes.greatest, extremes.greatest_at_s] if extremes else None,
            "last": [last.value, last.at_s] if last else None,
        }
    return {
        "from_s": result.span.from_s,
        "until_s": result.span.until_s,
        "seen": seen,
        "alone": {quantity: _window(each) for quantity, each in result.alone.items()},
        "together": _window(result.together) if result.together is not None else None,
        "below": {
            quantity: [list(each) for each in stretches]
            for quantity, stretches in result.below.items()
            if stretches
        },
        "lethality": [
            {
                "name": each.reference.name,
                "unit": each.reference.unit,
                "value": each.value,
                "hottest_c": each.hottest_c,
            }
            for each in result.lethalities
        ],
        "rinse_asked_ms_cm": result.span.rinse.end_ms_cm if result.span.rinse else None,
        "rinsed": [result.rinsed.from_s, result.rinsed.length_s] if result.rinsed else None,
    }
