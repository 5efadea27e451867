"""Which number of a logger file stands for a step: the rule by which readings are written.

For each window of the step that the file can tell of, over the stretch that belongs to the step:

- a window with a least value gets the least reading, one with only a most the greatest; where
  both ends are set and the greatest reading is above the maximum, it gets that one too;
- conductivity and pH of a rinse are judged at its end, by the last reading;
- time gets the minutes for which every other window that is logged held at once, once the step
  has ended, and together with those of the attempts that it prolongs. It is cut to a tenth of a
  minute, never made longer.
"""

import dataclasses
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from brewhygiene.brewery.models import Brewery
from brewhygiene.regimes.measures import PLAUSIBLE, measure_key
from brewhygiene.regimes.models import Basis, Quantity, StepWindow
from brewhygiene.science.logger.units import QUANTITIES
from brewhygiene.turnarounds.logger.evaluation import RINSES
from brewhygiene.turnarounds.logger.placing import Attempt, attempts_of
from brewhygiene.turnarounds.logger.words import LoggerClock, clock_of_logger_file
from brewhygiene.turnarounds.models import Clean, LoggerFile, ReadingStage, StepReading
from brewhygiene.turnarounds.progress import (
    chain_of,
    progress_of,
    standing_readings,
    to_tenth_below,
)
from brewhygiene.turnarounds.queries import cleans_with_records

JUDGED_AT_END = frozenset({Quantity.CONDUCTIVITY_MS_CM, Quantity.PH})


@dataclasses.dataclass(frozen=True)
class Candidate:
    """A reading that a file gives, in the unit of its quantity's name; ``at_s`` s of the file.

    ``below_s`` are the stretches in which a flow was below its window, in s of the file: each to
    when it was back, ``None`` where it was not.
    ``refused`` says why it cannot be written, ``already`` that it was; ``beside`` are the other
    standing readings of the same thing.
    """

    quantity: str
    stage: str
    value: float
    basis: str
    method: str
    at_s: float
    below_s: tuple[tuple[float, float | None], ...] = ()
    refused: str = ""
    already: bool = False
    beside: tuple[StepReading, ...] = ()

    @property
    def writable(self) -> bool:
        return not self.refused and not self.already


@dataclasses.dataclass(frozen=True)
class StepEvidence:
    """What a file gives for one attempt; ``measured`` as kept in the evaluation."""

    attempt: Attempt
    measured: Mapping[str, Any]
    candidates: tuple[Candidate, ...]
    silent: tuple[str, ...]  # why a window of the step gets nothing, in words

    @property
    def placed(self) -> bool:
        return "from_s" in self.measured

    @property
    def writable(self) -> bool:
        return self.attempt.standing and any(one.writable for one in self.candidates)


def evidence_of(
    attempt: Attempt,
    measured: Mapping[str, Any],
    *,
    every: Mapping[int, Mapping[str, Any]],
    logger_file_pk: int,
    clock: LoggerClock,
) -> StepEvidence:
    """What a file gives for ``attempt``. 0 queries.

    ``measured`` is its part of the evaluation and ``every`` those of all attempts, by record.
    """
    if "from_s" not in measured:
        return StepEvidence(attempt, measured, (), ())
    found: list[Candidate] = []
    silent: list[str] = []
    for window in attempt.step.windows.all():
        if window.quantity == Quantity.TIME_MIN:
            _time(attempt, every, clock=clock, found=found, silent=silent)
        elif window.quantity not in measured["seen"]:
            silent.append(f"{window.get_quantity_display()} is not in the file")
        elif window.quantity == Quantity.CONCENTRATION and window.basis != Basis.WW:
            silent.append(
                f"strength is logged in % w/w and set in {Basis(window.basis).label}: not compared"
            )
        else:
            _readings(attempt, window, measured, clock=clock, found=found, silent=silent)
    return StepEvidence(
        attempt,
        measured,
        tuple(_checked(one, attempt, logger_file_pk) for one in found),
        tuple(silent),
    )


def _readings(
    attempt: Attempt,
    window: StepWindow,
    measured: Mapping[str, Any],
    *,
    clock: LoggerClock,
    found: list[Candidate],
    silent: list[str],
) -> None:
    seen = measured["seen"][window.quantity]
    if not seen["readings"]:
        silent.append(f"{window.get_quantity_display()} has no reading in this stretch")
        return
    during = f"of {seen['readings']} readings, " + clock.span_words(
        measured["from_s"], measured["until_s"]
    )

    low = measured.get("below", {}).get(window.quantity, [])
    below_s = tuple(
        (from_s, until_s if until_s < measured["until_s"] else None) for from_s, until_s in low
    )

    def add(which: str, words: str, stage: str) -> None:
        value, at_s = seen[which]
        found.append(
            Candidate(
                quantity=window.quantity,
                stage=stage,
                value=round(value, 3),
                basis=window.basis,
                method=f"logger file, {words} {during}",
                at_s=at_s,
                below_s=below_s if which == "least" else (),
            )
        )

    if attempt.step.kind in RINSES and window.quantity in JUDGED_AT_END:
        add("last", "last", ReadingStage.END)
    elif window.minimum is None:
        add("greatest", "greatest", ReadingStage.RETURN)
    else:
        add("least", "least", ReadingStage.RETURN)
        if window.maximum is not None and seen["greatest"][0] > window.maximum:
            add("greatest", "greatest", ReadingStage.RETURN)


def _time(
    attempt: Attempt,
    every: Mapping[int, Mapping[str, Any]],
    *,
    clock: LoggerClock,
    found: list[Candidate],
    silent: list[str],
) -> None:
    parts = [every.get(record.pk, {}) for record in chain_of(attempt.record)]
    if parts[0].get("together") is None:
        silent.append("no other window of this step is logged, so the timer counts")
        return
    if attempt.record.ended_at is None:
        silent.append("minutes are written after the step has ended")
        return
    if any(part.get("together") is None for part in parts):
        silent.append("an attempt that this one extends is not in the file, so the timer counts")
        return
    minutes = sum(part["together"]["minutes_inside"] for part in parts)
    # In one fixed order: PostgreSQL keeps none in what it stores.
    alone = [quantity for quantity in Quantity.values if quantity in parts[0]["alone"]]
    names = " and ".join(QUANTITIES[quantity].label for quantity in alone)
    stretches = ", ".join(
        clock.span_words(part["from_s"], part["until_s"]) for part in reversed(parts)
    )
    found.append(
        Candidate(
            quantity=Quantity.TIME_MIN,
            stage=ReadingStage.END,
            value=to_tenth_below(minutes),
            basis="",
            method=f"logger file, minutes with {names} inside the window, {stretches}"[:200],
            at_s=parts[0]["until_s"],
        )
    )


def _checked(one: Candidate, attempt: Attempt, logger_file_pk: int) -> Candidate:
    """With what stands beside it, and why it cannot be written if so."""
    low, high = PLAUSIBLE[measure_key(quantity=one.quantity, basis=one.basis)]
    refused = ""
    if not low <= one.value <= high:
        refused = "is not possible: check the sensor's zero, or its unit in the columns"
    alike = [
        reading for reading in standing_readings(attempt.record) if reading.quantity == one.quantity
    ]
    # A correction of a reading from this file names it and has no file of its own.
    same = {
        reading.pk
        for reading in attempt.record.readings.all()
        if reading.logger_file_id == logger_file_pk and reading.method == one.method
    }
    written = [r for r in alike if r.pk in same or r.corrects_id in same]
    return dataclasses.replace(
        one,
        refused=refused,
        already=bool(written),
        beside=tuple(reading for reading in alike if reading not in written),
    )


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
