"""Actions of a clean's logger files: keep one, read it anew, and write what it shows."""

import hashlib
import json
from collections.abc import Collection, Sequence
from typing import Any

from django.core.files import File
from django.core.files.storage import default_storage
from django.utils import timezone

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.models import User
from brewhygiene.people.permissions import require
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.quantities.style import shown_moment
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import (
    lock_open_turnaround,
    lock_running_clean,
    raise_revision,
)
from brewhygiene.turnarounds.logger.evidence import StepEvidence, evidence_in
from brewhygiene.turnarounds.logger.intake import Columns, ReadFile
from brewhygiene.turnarounds.logger.words import LoggerClock, clock_of_logger_file
from brewhygiene.turnarounds.models import Clean, LoggerFile, LoggerMapping, StepRecord
from brewhygiene.turnarounds.readings.actions import (
    judge_contact_again,
    settle_unread,
    write_reading,
)


def upload_logger_file(*, by: Actor, clean: Clean, read: ReadFile) -> LoggerFile:
    """Keep a logger file that was read to its end, as it came; no file is left where it fails."""
    require(by, "work_cellar")
    stored = default_storage.save(f"traces/{clean.pk}-{read.sha256[:12]}.log", File(read.file))
    try:
        logger_file = _keep_logger_file(by=by, clean=clean, read=read, stored=stored)
    except BaseException:
        default_storage.delete(stored)
        raise
    if logger_file.file.name != stored:  # sent twice by one form: the first stands
        default_storage.delete(stored)
    return logger_file


@action("keep logger file")
def _keep_logger_file(
    *, by: Actor, clean: Clean, read: ReadFile, stored: str
) -> Recorded[LoggerFile]:
    user = require(by, "work_cellar")
    lock_open_turnaround(clean.turnaround)
    _refuse_same_file(clean, read.sha256)
    logger_file = LoggerFile.objects.create(
        clean=clean,
        file=stored,
        original_name=read.name,
        size_bytes=read.size_bytes,
        sha256=read.sha256,
        mapping=read.columns.mapping.as_json(),
        evaluation=read.evaluation,
        uploaded_at=by.now,
        uploaded_by=user,
    )
    if read.columns.remember:
        _remember(by, user, read.columns)
    raise_revision(clean.turnaround)
    return Recorded(
        logger_file,
        {
            "clean": str(clean),
            "size_bytes": logger_file.size_bytes,
            "sha256": logger_file.sha256,
            "mapping": logger_file.mapping,
            "remembered_as": read.columns.remembered_as,
            "rows": read.evaluation["rows"],
        },
        aggregate=clean.turnaround,
    )


def _refuse_same_file(clean: Clean, sha256: str) -> None:
    """Refuse a file that this clean has already. 1 query."""
    same = clean.logger_files.filter(sha256=sha256).select_related("uploaded_by").first()
    if same is not None:
        raise Refusal(
            f"This file is already here: {same.uploaded_by} sent it "
            f"{shown_moment(timezone.localtime(same.uploaded_at), 'd.m.Y, H:i')} as "
            f"“{same.original_name}”. "
            "It was not saved again.",
            field="file",
            code="same_file",
        )


def _lock_logger_file(logger_file: LoggerFile) -> LoggerFile:
    lock_open_turnaround(logger_file.clean.turnaround)
    return (
        LoggerFile.objects.select_for_update(of=("self",))
        .select_related("clean__turnaround__vessel")
        .get(pk=logger_file.pk)
    )


@action("map logger file")
def map_logger_file(
    *, by: Actor, logger_file: LoggerFile, columns: Columns, evaluation: dict[str, Any]
) -> Recorded[LoggerFile]:
    """Keep how a file's columns are read, what it shows so, and its logger where one is named."""
    user = require(by, "work_cellar")
    logger_file = _lock_logger_file(logger_file)
    logger_file.mapping = columns.mapping.as_json()
    logger_file.evaluation = evaluation
    logger_file.save(update_fields=["mapping", "evaluation"])
    if columns.remember:
        _remember(by, user, columns)
    return Recorded(
        logger_file,
        {
            "sha256": logger_file.sha256,
            "mapping": logger_file.mapping,
            "remembered_as": columns.remembered_as,
        },
        aggregate=logger_file.clean.turnaround,
    )


def _remember(by: Actor, user: User, columns: Columns) -> None:
    LoggerMapping.objects.update_or_create(
        name=columns.remembered_as,
        defaults={"mapping": columns.mapping.as_json(), "made_at": by.now, "made_by": user},
    )


@action("place logger file")
def place_logger_file(
    *, by: Actor, logger_file: LoggerFile, evaluation: dict[str, Any]
) -> Recorded[LoggerFile]:
    """Keep which stretch of a file belongs to which step, and what it shows so."""
    require(by, "work_cellar")
    logger_file = _lock_logger_file(logger_file)
    logger_file.evaluation = evaluation
    logger_file.save(update_fields=["evaluation"])
    return Recorded(
        logger_file,
        {
            "sha256": logger_file.sha256,
            "starts_at": evaluation["starts_at"],
            "rinse_end_ms_cm": evaluation["rinse_end_ms_cm"],
            "steps": [
                {name: kept.get(name) for name in ("record", "choice", "from_s", "until_s")}
                for kept in evaluation["steps"]
            ],
        },
        aggregate=logger_file.clean.turnaround,
    )


def fingerprint(logger_file: LoggerFile) -> str:
    """A short word for what was looked at, so that another evaluation is not written unseen."""
    kept = [
        logger_file.evaluation["steps"],
        logger_file.evaluation["starts_at"],
        logger_file.mapping,
    ]
    return hashlib.sha256(json.dumps(kept, sort_keys=True).encode()).hexdigest()[:16]


@action("write logger_file readings")
def write_logger_file_readings(
    *, by: Actor, logger_file: LoggerFile, records: Collection[StepRecord], seen: str
) -> Recorded[LoggerFile]:
    """Write what a file shows into the chosen attempts, judged as readings by hand are.

    That a quantity of an ended attempt was not read is settled by its reading, with that reason.
    ``seen`` is the :func:`fingerprint` of the evaluation that was looked at.
    """
    require(by, "work_cellar")
    logger_file = LoggerFile.objects.select_related("clean__turnaround").get(pk=logger_file.pk)
    if logger_file.clean.finished_at is not None:
        raise Refusal(
            "This clean is finished, so no reading can be written. The file stays as evidence.",
            code="clean_ended",
        )
    clean = lock_running_clean(logger_file.clean)
    logger_file.refresh_from_db()
    if not logger_file.evaluation["checked"]:
        raise Refusal(
            "The columns are not confirmed yet. Confirm the columns first.",
            code="columns_unchecked",
        )
    if seen != fingerprint(logger_file):
        raise Refusal(
            "This file was evaluated again since the page was opened. Check the readings again.",
            code="stale",
        )
    evidence = evidence_in(logger_file, clean, brewery=Brewery.current(), now=by.now)
    wanted = {record.pk for record in records}
    chosen = [step for step in evidence.steps if step.attempt.record.pk in wanted]
    if not chosen:
        raise Refusal("Choose at least one step to write readings for.", field="records")
    _refuse_unwritable(chosen)
    lines = []
    for step in chosen:
        lines += _write_step(by, logger_file, step)
        judge_contact_again(by=by, record=step.attempt.record)
    raise_revision(clean.turnaround)
    return Recorded(
        logger_file, {"sha256": logger_file.sha256, "readings": lines}, aggregate=clean.turnaround
    )


def _refuse_unwritable(chosen: list[StepEvidence]) -> None:
    for step in chosen:
        if not step.attempt.standing:
            raise Refusal(
                f"{step.attempt.title}: a later attempt replaced this one.",
                field="records",
            )
        if step.candidates and all(one.already for one in step.candidates):
            raise Refusal(
                f"{step.attempt.title}: these readings are already written. Correct a "
                "reading in its step.",
                field="records",
                code="already_written",
            )
        if not step.writable:
            raise Refusal(
                f"{step.attempt.title}: the file has no reading to write.", field="records"
            )


def _moments(
    stretches: Sequence[tuple[float, float | None]], clock: LoggerClock
) -> list[list[str | None]] | None:
    """Stretches of a file by the clock, as they are kept; ``None`` where there are none."""
    found: list[list[str | None]] = []
    for from_s, until_s in stretches:
        begin = clock.at(from_s)
        end = clock.at(until_s) if until_s is not None else None
        if begin is None:
            return None
        found.append([begin.isoformat(), end.isoformat() if end is not None else None])
    return found or None


def _write_step(by: Actor, logger_file: LoggerFile, step: StepEvidence) -> list[dict[str, Any]]:
    clock = clock_of_logger_file(logger_file.evaluation, Brewery.current())
    lines = []
    for one in step.candidates:
        if not one.writable:
            continue
        moment = clock.at(one.at_s)
        reading = write_reading(
            by=by,
            record=step.attempt.record,
            step=step.attempt.step,
            quantity=one.quantity,
            value=one.value,
            source=ValueSource.LOGGER,
            basis=one.basis,
            stage=one.stage,
            titration=None,
            logger_file=logger_file,
            method=one.method,
            taken_at=min(moment, by.now) if moment is not None else None,
            below=_moments(one.below_s, clock),
        )
        settled = settle_unread(
            by=by,
            record=step.attempt.record,
            quantity=one.quantity,
            reason=f"read from the logger file {logger_file.original_name}",
        )
        lines.append(
            {
                "step": str(step.attempt.step),
                "attempt": step.attempt.record.attempt,
                "reading": str(reading),
                "stage": reading.stage,
                "value": reading.value,
                "verdict": reading.verdict,
                "method": reading.method,
                "settles": [deviation.description for deviation in settled],
            }
        )
    return lines
