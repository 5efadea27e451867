"""Gathering what a release record contains from the rooms below."""

import dataclasses
import zoneinfo
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from brewhygiene.atp.causes.queries import found_causes
from brewhygiene.atp.models.readings import Result
from brewhygiene.batches.brews.queries import contents_of as batches_of
from brewhygiene.batches.corrections.signed import corrected_fillings
from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.check.record import RecordCheck, check_record
from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import aggregate_name
from brewhygiene.ledger.rows.shown import Key, noticing
from brewhygiene.people.models import Signature, User
from brewhygiene.plates.growth import growth_of
from brewhygiene.plates.models import Plate
from brewhygiene.quantities.style import written_in
from brewhygiene.regimes.measures import window_in_words
from brewhygiene.regimes.models import StepWindow
from brewhygiene.release.gates import gates_of
from brewhygiene.release.models import Decision, Outcome
from brewhygiene.release.queries import Dossier, load_dossier
from brewhygiene.release.status import Code
from brewhygiene.reports.heads import printed_head
from brewhygiene.reports.record.contents import (
    Acknowledged,
    Attempt,
    CleanPart,
    Correction,
    DecisionPart,
    DeviationLine,
    GateLine,
    Headline,
    PlatePart,
    ReadingLine,
    ReleaseRecord,
    SampleGroup,
    SampleLine,
    StepPart,
    Wording,
)
from brewhygiene.reports.record.materials import AllowedInCleans, materials_of
from brewhygiene.reports.record.words import reading_words
from brewhygiene.turnarounds.logger.queries import logger_files_of
from brewhygiene.turnarounds.models import (
    StepRecord,
    Turnaround,
)
from brewhygiene.turnarounds.models.starts import start_of
from brewhygiene.turnarounds.progress import CleanProgress, StepProgress
from brewhygiene.turnarounds.queries import permits_of
from brewhygiene.turnarounds.steps.words import contact_words, method_words


def contents_of(turnaround: Turnaround, *, now: datetime) -> ReleaseRecord:
    """The record of a turnaround as it stands at ``now``, checked against the ledger.

    Every row that it is made from is checked, whatever it is. Signs a head where the ledger has
    grown since the last that was printed here. Constant: about 60 queries, whatever was recorded.
    """
    with noticing() as noticed:
        record = _contents_of(turnaround, now=now)
    shown: frozenset[Key] = frozenset({*noticed, (Turnaround, turnaround.pk)})
    return dataclasses.replace(record, shown=shown, check=check_record(shown, record.entries))


def _contents_of(turnaround: Turnaround, *, now: datetime) -> ReleaseRecord:
    brewery = Brewery.current()
    with written_in(brewery.style):
        return _contents_in(brewery, turnaround, now=now)


def _contents_in(brewery: Brewery, turnaround: Turnaround, *, now: datetime) -> ReleaseRecord:
    dossier = load_dossier(turnaround, now=now)
    headline = _headline(dossier)
    samples = _samples(dossier)
    logger_files = list(logger_files_of(*(progress.clean for progress in dossier.cleans)))
    allowed = AllowedInCleans(dossier.turnaround.vessel, dossier.cleans)
    cleans = [
        CleanPart(
            number=number,
            clean=progress.clean,
            allowed=allowed.of(progress),
            steps=[_step(progress, item, brewery=brewery) for item in progress.steps],
            samples=[group for group in samples if group.first.clean_id == progress.clean.pk],
            logger_files=[
                logger_file
                for logger_file in logger_files
                if logger_file.clean_id == progress.clean.pk
            ],
        )
        for number, progress in enumerate(dossier.cleans, start=1)
    ]
    entries = list(
        Entry.objects.filter(aggregate=aggregate_name(turnaround))
        .select_related("user")
        .order_by("number")
    )
    batch_before, batch = batches_of(
        dossier.turnaround.emptying.fill, dossier.turnaround.closing_fill
    )
    return ReleaseRecord(
        brewery=brewery,
        dossier=dossier,
        now=now,
        zone=zoneinfo.ZoneInfo(brewery.time_zone),
        headline=headline,
        cleans=cleans,
        materials=materials_of(dossier.turnaround.vessel),
        corrections=_corrections(cleans, dossier.plates),
        decisions=_decisions(dossier),
        gates_now=_gates_now(dossier, brewery=brewery, now=now) if headline.draft else [],
        plates=_plates(dossier),
        causes=found_causes(dossier.turnaround),
        permits=permits_of(dossier.turnaround),
        batch_before=batch_before,
        batch=batch,
        filling_corrected=corrected_fillings(dossier.turnaround),
        wordings=_wordings(dossier),
        entries=entries,
        shown=frozenset(),
        check=RecordCheck(rows=0, entries=0, findings=(), adopted=()),
        head=printed_head(way=f"record {turnaround.pk}", now=now),
    )


def _headline(dossier: Dossier) -> Headline:
    turnaround, status = dossier.turnaround, dossier.status
    latest = dossier.decisions[-1] if dossier.decisions else None
    fill = turnaround.closing_fill
    if fill is not None:
        product = fill.words
        start = start_of(turnaround)
        if start is not None and latest is None and not fill.without_release:
            return Headline("released", "Released on paper and filled", f"{product}. {start.words}")
        if not fill.without_release:
            return Headline("released", "Released and filled", product, decision=latest)
        draft = "" if latest is not None else "Not released"
        return Headline("action", "Filled without a release", product, latest, draft)
    assert status is not None  # an open turnaround has one
    stands = latest is not None and (
        status.code in (Code.RELEASED, Code.LAPSED)
        or (status.code == Code.HELD and latest.outcome == Outcome.HOLD)
        # Out of service hides the status below it: the decision on the last clean stands.
        or (status.code == Code.OUT_OF_SERVICE and latest.clean_id == dossier.cleans[-1].clean.pk)
    )
    if stands:
        return Headline(
            status.code.value, status.code.label.capitalize(), status.detail, decision=latest
        )
    word = f"Not decided: {status.code.label}"
    if status.code in (Code.RELEASED, Code.LAPSED):
        word = f"Decided on paper only: {status.code.label}"
    return Headline(status.code.value, word, status.detail, draft="Not decided")


def _step(progress: CleanProgress, item: StepProgress, *, brewery: Brewery) -> StepPart:
    windows = {window.quantity: window for window in item.step.windows.all()}
    pending = [
        Acknowledged(acknowledgement=ack, titles=[_split(text).title for text in ack.texts])
        for ack in progress.clean.acknowledgements.all()
        if ack.step_id == item.step.pk
    ]
    attempts = []
    for record in item.attempts:
        before = [a for a in pending if a.acknowledgement.acknowledged_at <= record.started_at]
        pending = pending[len(before) :]
        attempts.append(_attempt(record, item, acks=before, windows=windows, brewery=brewery))
    return StepPart(
        progress=item,
        attempts=attempts,
        pending=pending,
        not_read=[
            f"{window.get_quantity_display()} {window_in_words(window, brewery)}"
            for window in windows.values()
        ]
        if not item.attempts
        else [],
    )


def _attempt(
    record: StepRecord,
    item: StepProgress,
    *,
    acks: Sequence[Acknowledged],
    windows: Mapping[str, StepWindow],
    brewery: Brewery,
) -> Attempt:
    readings = list(record.readings.all())
    corrected_by = {r.corrects_id: r for r in readings if r.corrects_id}
    numbers = {other.pk: other.attempt for other in item.attempts}
    minutes = (
        (record.ended_at - record.started_at).total_seconds() / 60 if record.ended_at else None
    )
    return Attempt(
        record=record,
        minutes=minutes,
        contact=contact_words(record, item.step),
        prolongs=numbers.get(record.extends_id or 0),
        acknowledgements=acks,
        one_of=len(item.attempts),
        end=item.step.get_end_criterion_display(),
        readings=[
            ReadingLine(
                reading=reading,
                shown=reading_words(reading, brewery=brewery),
                window=window_in_words(window, brewery) if window is not None else "",
                method=method_words(reading, window=window, brewery=brewery),
                corrected_by=corrected_by.get(reading.pk),
            )
            for reading in readings
            for window in [windows.get(reading.quantity)]
        ],
        deviations=[
            DeviationLine(deviation=item, void=item.reading_id in corrected_by)
            for item in record.deviations.all()
        ],
    )


def _samples(dossier: Dossier) -> list[SampleGroup]:
    """Every result, none left out, grouped by clean and means. 1 query."""
    numbers = {result.pk: number for number, result in enumerate(dossier.results, start=1)}
    corrected_by = {
        result.corrects_id: numbers[result.pk] for result in dossier.results if result.corrects_id
    }
    checkers = User.objects.in_bulk(
        {r.control_check.checked_by_id for r in dossier.results if r.control_check is not None}
    )
    grouped: dict[tuple[int | None, ...], list[Result]] = {}
    for result in dossier.results:
        means = (
            result.clean_id,
            result.meter_id,
            result.control_check_id,
            result.test_lot_id,
            result.limits_id,
        )
        grouped.setdefault(means, []).append(result)
    return [
        SampleGroup(
            first=results[0],
            checked_by=checkers[check.checked_by_id].display_name
            if (check := results[0].control_check) is not None
            else "",
            lines=[
                SampleLine(
                    number=numbers[result.pk],
                    result=result,
                    corrects=numbers.get(result.corrects_id or 0),
                    corrected_by=corrected_by.get(result.pk),
                    retest_of=numbers.get(result.retest_of_id or 0),
                    without_control=dossier.without_control(result),
                    late=dossier.taken_late(result),
                )
                for result in results
            ],
        )
        for results in grouped.values()
    ]


def _corrections(cleans: Sequence[CleanPart], plates: Sequence[Plate]) -> list[Correction]:
    found: list[Correction] = []
    for part in cleans:
        for step in part.steps:
            for attempt in step.attempts:
                lines = {line.reading.pk: line for line in attempt.readings}
                found += [
                    Correction(
                        what=(
                            f"Clean {part.number}, step {step.progress.step}: "
                            f"{new.reading.get_quantity_display()} "
                            f"{new.reading.get_stage_display()}"
                        ),
                        old=f"{old.shown}, {old.verdict}",
                        new=f"{new.shown}, {new.verdict}",
                        reason=new.reading.correction_reason,
                        who=new.reading.taken_by,
                        at=new.reading.taken_at,
                    )
                    for new in attempt.readings
                    if (old := lines.get(new.reading.corrects_id or 0)) is not None
                ]
        by_number = {line.number: line for line in part.results}
        found += [
            Correction(
                what=f"Reading {line.corrects}: {line.result.point.name}",
                old=_result_words(by_number[line.corrects].result),
                new=_result_words(line.result),
                reason=line.result.correction_reason,
                who=line.result.recorded_by,
                at=line.result.recorded_at,
                signature=line.result.correction_signature,
            )
            for line in part.results
            if line.corrects is not None
        ]
    found += [
        Correction(
            what=f"Plate of {plate.point.name}, {plate.medium}",
            old=f"{correction.was_words}, {correction.was_state}",
            new=f"{correction.is_words}, {correction.is_state}",
            reason=correction.reason,
            who=correction.corrected_by,
            at=correction.corrected_at,
            signature=correction.signature,
        )
        for plate in plates
        for correction in plate.corrections.all()
    ]
    return sorted(found, key=lambda correction: correction.at)


def _result_words(result: Result) -> str:
    return f"{result.rlu} RLU, {result.get_verdict_display()}"


def _decisions(dossier: Dossier) -> list[DecisionPart]:
    numbers = {c.clean.pk: number for number, c in enumerate(dossier.cleans, start=1)}
    return [
        DecisionPart(
            decision=decision,
            clean_number=numbers.get(decision.clean_id) if decision.clean_id else None,
            gates=[_gate_line(gate, decision) for gate in decision.gates],
        )
        for decision in dossier.decisions
    ]


def _gate_line(gate: Mapping[str, Any], decision: Decision | None) -> GateLine:
    reason = decision.waivers.get(gate["code"], "") if decision is not None else ""
    return GateLine(
        title=gate["title"],
        answer=gate["answer"],
        evidence=gate["evidence"],
        reason=reason,
        same_words=bool(decision and decision.explanations.get(gate["code"], {}).get("same_as")),
        waived=bool(reason)
        and gate["answer"] == "no"
        and decision is not None
        and decision.outcome == Outcome.RELEASE,
    )


def _gates_now(dossier: Dossier, *, brewery: Brewery, now: datetime) -> list[GateLine]:
    """The gates as they stand, or stood at the fill, where nobody signed; none before a clean."""
    if dossier.last_finished is None:
        return []
    fill = dossier.turnaround.closing_fill
    now = fill.filled_at if fill is not None else now
    return [
        _gate_line(gate.as_record(), None)
        for gate in gates_of(dossier, brewery=brewery, now=now, user=None)
        if gate.code != "two_people"  # it asks about the one who signs, and nobody has
    ]


def _plates(dossier: Dossier) -> list[PlatePart]:
    """Plates with what their dishes say and the signature that closed them. 1 query."""
    signatures = Signature.objects.in_bulk(
        {p.resolution_signature_id for p in dossier.plates if p.resolution_signature_id}
    )
    return [
        PlatePart(plate, growth_of(plate), signatures.get(plate.resolution_signature_id or 0))
        for plate in dossier.plates
    ]


def _split(text: str) -> Wording:
    title, _, rest = text.partition(". ")
    return Wording(title=title, text=rest)


def _wordings(dossier: Dossier) -> list[Wording]:
    texts = dict.fromkeys(
        text for c in dossier.cleans for ack in c.clean.acknowledgements.all() for text in ack.texts
    )
    return [_split(text) for text in texts]
