"""What the page of a logger file shows: worked out from a file and its clean, both loaded."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.words import capital, counted
from brewhygiene.regimes.measures import window_in_words
from brewhygiene.regimes.models import Quantity
from brewhygiene.turnarounds.logger.actions import fingerprint
from brewhygiene.turnarounds.logger.chart import Table, chart_of, table_of
from brewhygiene.turnarounds.logger.evaluation import asks_tap
from brewhygiene.turnarounds.logger.evidence import Candidate, LoggerEvidence, StepEvidence
from brewhygiene.turnarounds.logger.placing import Phase, phases_of
from brewhygiene.turnarounds.logger.words import (
    LoggerClock,
    clock_of_logger_file,
    in_order,
    logged_range,
    logged_title,
    logged_value,
)
from brewhygiene.turnarounds.models import LoggerFile, ReadingStage
from brewhygiene.turnarounds.progress import open_unread
from brewhygiene.turnarounds.quantities import minutes_words, quantity_title, show_value

# Below this nothing of note dies; and F0 is told from boiling on.
LETHAL_FROM_C = 60.0
F0_FROM_C = 100.0


@dataclasses.dataclass(frozen=True)
class SeenLine:
    """One quantity within a step's stretch."""

    title: str
    window: str
    inside: str
    extremes: str
    longest_gap: str


@dataclasses.dataclass(frozen=True)
class CandidateLine:
    """A reading to write, in words; ``settles`` is the open deviation that it answers."""

    candidate: Candidate
    title: str
    stage: str
    beside: Sequence[str]
    settles: str


@dataclasses.dataclass(frozen=True)
class StepCard:
    """One attempt at a step as the file shows it."""

    evidence: StepEvidence
    stretch: str
    lines: Sequence[SeenLine]
    together: str
    facts: Sequence[tuple[str, str]]
    readings: Sequence[CandidateLine]

    @property
    def title(self) -> str:
        return self.evidence.attempt.title

    @property
    def pk(self) -> int:
        return self.evidence.attempt.record.pk

    @property
    def silent_words(self) -> str:
        """Why windows of the step get nothing, a sentence each."""
        return " ".join(f"{capital(words)}." for words in self.evidence.silent)


@dataclasses.dataclass(frozen=True)
class LoggerScreen:
    """The page of a logger file."""

    found: LoggerEvidence
    clock: LoggerClock
    phases: Sequence[tuple[Phase, str, str]]
    cards: Sequence[StepCard]
    columns: Sequence[tuple[str, str, str, str]]
    notes: Sequence[str]
    chart: dict[str, Any]
    table: Table
    seen: str

    @property
    def logger_file(self) -> LoggerFile:
        return self.found.logger_file

    @property
    def ends_at(self) -> datetime | None:
        """The moment of the last row."""
        return self.clock.at(self.logger_file.evaluation["duration_s"])

    @property
    def may_write(self) -> bool:
        """Whether there is anything to write, and the file may be written from."""
        return self.found.writable and bool(self.logger_file.evaluation["checked"])


def logger_file_screen(found: LoggerEvidence, *, brewery: Brewery) -> LoggerScreen:
    """The page of a file. 0 queries."""
    evaluation = found.logger_file.evaluation
    clock = clock_of_logger_file(evaluation, brewery)
    phases = phases_of(evaluation)
    attempts = [step.attempt for step in found.steps]
    return LoggerScreen(
        found=found,
        clock=clock,
        phases=[
            (
                phase,
                f"{clock.span_words(phase.from_s, phase.until_s)} ({minutes_words(phase.minutes)})",
                ", ".join(
                    logged_value(mean, quantity=quantity, brewery=brewery)
                    for quantity, mean in phase.means.items()
                ),
            )
            for phase in phases
        ],
        cards=[_card(step, clock=clock, brewery=brewery) for step in found.steps],
        columns=_columns(found.logger_file, brewery),
        notes=_notes(found, clock),
        chart=chart_of(evaluation, attempts=attempts, phases=phases, clock=clock, brewery=brewery),
        table=table_of(evaluation, clock=clock, brewery=brewery),
        seen=fingerprint(found.logger_file),
    )


def _columns(logger_file: LoggerFile, brewery: Brewery) -> list[tuple[str, str, str, str]]:
    """Quantity, its column, its readings with their extremes, its longest gap."""
    rows = []
    for quantity, column, unit in logger_file.mapping["columns"]:
        seen = logger_file.evaluation["coverage"][quantity]
        readings = "no reading"
        if seen["readings"]:
            found = logged_range(
                seen["least"], seen["greatest"], quantity=quantity, brewery=brewery
            )
            readings = f"{seen['readings']} readings, {found}"
        rows.append(
            (
                logged_title(quantity),
                column if unit == "pH" else f"{column}, in {unit}",
                readings,
                minutes_words(seen["longest_gap_min"]),
            )
        )
    return rows


def _notes(found: LoggerEvidence, clock: LoggerClock) -> list[str]:
    """What a person should know of the file before trusting it."""
    evaluation = found.logger_file.evaluation
    rows, notes = evaluation["rows"], []
    for count, words in (
        (rows["duplicates"], "with the time of an earlier row"),
        (rows["backwards"], "with a time before an earlier row's"),
        (rows["without_time"], "without a time"),
    ):
        if count:
            notes.append(f"{counted(count, 'row')} {words}: not used.")
    for quantity, seen in in_order(evaluation["coverage"]).items():
        if seen["gap_count"]:
            gaps = counted(seen["gap_count"], "gap")
            notes.append(
                f"{logged_title(quantity)}: {gaps} of more than "
                f"{show_number(evaluation['max_gap_s'])} s. "
                "Nothing is drawn or counted across gaps."
            )
    attempts = [step.attempt for step in found.steps]
    if clock.starts_at is None:
        notes.append(
            "The file's times have no date, so steps are matched by order. Enter the time of the "
            "first row below."
        )
    elif attempts and not any(attempt.timed for attempt in attempts):
        notes.append(
            "The file's times do not overlap this clean, so steps are matched by order. Check that "
            "the file is the right one and the logger's clock was right."
        )
    known = {kept["record"] for kept in evaluation["steps"]}
    if any(attempt.record.pk not in known for attempt in attempts):
        notes.append(
            "Steps have started since this file was evaluated. Evaluate the file again below."
        )
    return notes


def _card(step: StepEvidence, *, clock: LoggerClock, brewery: Brewery) -> StepCard:
    if not step.placed:
        return StepCard(step, "", (), "", (), ())
    measured = step.measured
    windows = {window.quantity: window for window in step.attempt.step.windows.all()}
    lines = []
    for quantity, seen in measured["seen"].items():
        window, alone = windows.get(quantity), measured["alone"].get(quantity)
        extremes = "no reading"
        if seen["readings"]:
            extremes = logged_range(
                seen["least"][0], seen["greatest"][0], quantity=quantity, brewery=brewery
            )
        lines.append(
            SeenLine(
                title=logged_title(quantity),
                window=window_in_words(window, brewery) if window is not None else "none",
                inside=_inside(alone) if alone is not None else "no window",
                extremes=extremes,
                longest_gap=minutes_words(seen["longest_gap_min"]),
            )
        )
    together = measured["together"]
    several = together is not None and len(measured["alone"]) > 1
    return StepCard(
        evidence=step,
        stretch=f"{clock.span_words(measured['from_s'], measured['until_s'])} "
        f"({minutes_words((measured['until_s'] - measured['from_s']) / 60)})",
        lines=lines,
        together=_inside(together) if several else "",
        facts=_facts(step, clock),
        readings=[_candidate(one, step, brewery) for one in step.candidates],
    )


def _inside(window: dict[str, Any]) -> str:
    return (
        f"{minutes_words(window['minutes_inside'])} of {minutes_words(window['minutes_known'])}, "
        f"{minutes_words(window['longest_run_min'])} at a stretch"
    )


def _facts(step: StepEvidence, clock: LoggerClock) -> list[tuple[str, str]]:
    measured, facts = step.measured, []
    for heat in measured["lethality"]:
        least = F0_FROM_C if heat["name"] == "F0" else LETHAL_FROM_C
        if heat["hottest_c"] >= least:
            value = f"{show_number(heat['value'], significant=3)} {heat['unit']}"
            facts.append((heat["name"][:1].upper() + heat["name"][1:], value))
    asked = measured["rinse_asked_ms_cm"]
    if asked is not None and Quantity.CONDUCTIVITY_MS_CM in measured["seen"]:
        rinsed, words = measured["rinsed"], f"not down to {show_number(asked)} mS/cm"
        if rinsed is not None:
            words = (
                f"at or below {show_number(asked)} mS/cm from {clock.words(rinsed[0])} on, "
                f"for {minutes_words(rinsed[1] / 60)}"
            )
        facts.append(("Rinse end", words))
    elif asked is None and asks_tap(step.attempt.step):
        facts.append(("Rinse end", "enter the conductivity at the end of a rinse below"))
    return facts


def _candidate(one: Candidate, step: StepEvidence, brewery: Brewery) -> CandidateLine:
    typed = show_value(one.value, quantity=one.quantity, basis=one.basis, brewery=brewery)
    return CandidateLine(
        candidate=one,
        title=quantity_title(one.quantity, typed),
        stage="" if one.quantity == Quantity.TIME_MIN else ReadingStage(one.stage).label,
        beside=[
            f"{reading.typed}, {'from a logger file' if reading.logger_file_id else 'by hand'}, "
            f"{reading.taken_by}"
            for reading in one.beside
        ],
        settles=", ".join(
            item.description for item in open_unread(step.attempt.record, one.quantity)
        ),
    )
