"""A logger file beside its clean: what it gives for each attempt at a step."""

import dataclasses
from datetime import datetime

from brewhygiene.brewery.models import Brewery
from brewhygiene.turnarounds.models import Clean, Trace
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.trace_placing import attempts_of
from brewhygiene.turnarounds.trace_statistics import StepEvidence, evidence_of
from brewhygiene.turnarounds.trace_words import clock_of_trace


@dataclasses.dataclass(frozen=True)
class TraceEvidence:
    """A logger file with its clean, and what it gives for each attempt at a step."""

    trace: Trace
    clean: Clean
    steps: tuple[StepEvidence, ...]

    @property
    def writable(self) -> bool:
        return self.clean.running and any(step.writable for step in self.steps)


def trace_evidence(trace: Trace, *, brewery: Brewery, now: datetime) -> TraceEvidence:
    """What a file gives for its clean. 8 queries."""
    clean = cleans_with_records().get(pk=trace.clean_id)
    return evidence_in(trace, clean, brewery=brewery, now=now)


def evidence_in(trace: Trace, clean: Clean, *, brewery: Brewery, now: datetime) -> TraceEvidence:
    """As :func:`trace_evidence`; ``clean`` as loaded by ``cleans_with_records``. 0 queries."""
    evaluation = trace.evaluation
    clock = clock_of_trace(evaluation, brewery)
    every = {kept["record"]: kept for kept in evaluation["steps"]}
    attempts = attempts_of(
        progress_of(clean),
        starts_at=clock.starts_at,
        duration_s=evaluation["duration_s"],
        now=now,
    )
    return TraceEvidence(
        trace=trace,
        clean=clean,
        steps=tuple(
            evidence_of(
                attempt,
                every.get(attempt.record.pk, {}),
                every=every,
                trace_pk=trace.pk,
                clock=clock,
            )
            for attempt in attempts
        ),
    )
