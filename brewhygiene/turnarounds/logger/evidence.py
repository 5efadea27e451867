"""A logger file beside its clean: what it gives for each attempt at a step."""

import dataclasses
from datetime import datetime

from brewhygiene.brewery.models import Brewery
from brewhygiene.turnarounds.logger.placing import attempts_of
from brewhygiene.turnarounds.logger.statistics import StepEvidence, evidence_of
from brewhygiene.turnarounds.logger.words import clock_of_logger_file
from brewhygiene.turnarounds.models import Clean, LoggerFile
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import cleans_with_records


@dataclasses.dataclass(frozen=True)
class LoggerEvidence:
    """A logger file with its clean, and what it gives for each attempt at a step."""

    logger_file: LoggerFile
    clean: Clean
    steps: tuple[StepEvidence, ...]

    @property
    def writable(self) -> bool:
        return self.clean.running and any(step.writable for step in self.steps)


def logger_file_evidence(
    logger_file: LoggerFile, *, brewery: Brewery, now: datetime
) -> LoggerEvidence:
    """What a file gives for its clean. 8 queries."""
    clean = cleans_with_records().get(pk=logger_file.clean_id)
    return evidence_in(logger_file, clean, brewery=brewery, now=now)


def evidence_in(
    logger_file: LoggerFile, clean: Clean, *, brewery: Brewery, now: datetime
) -> LoggerEvidence:
    """As :func:`logger_file_evidence`; ``clean`` as of ``cleans_with_records``. 0 queries."""
    evaluation = logger_file.evaluation
    clock = clock_of_logger_file(evaluation, brewery)
    every = {kept["record"]: kept for kept in evaluation["steps"]}
    attempts = attempts_of(
        progress_of(clean),
        starts_at=clock.starts_at,
        duration_s=evaluation["duration_s"],
        now=now,
    )
    return LoggerEvidence(
        logger_file=logger_file,
        clean=clean,
        steps=tuple(
            evidence_of(
                attempt,
                every.get(attempt.record.pk, {}),
                every=every,
                logger_file_pk=logger_file.pk,
                clock=clock,
            )
            for attempt in attempts
        ),
    )
