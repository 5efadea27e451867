"""What was done in a turnaround so far, as a plain list of events."""

import dataclasses
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.models.causes import FoundCause
from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.plates.growth import growth_of
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.quantities.style import shown_moment
from brewhygiene.release.gates import GATE_TITLES
from brewhygiene.release.models import Decision, Outcome
from brewhygiene.release.queries import Dossier
from brewhygiene.turnarounds.models import Clean, CleanPurpose
from brewhygiene.turnarounds.models.entries import EntryPermit
from brewhygiene.turnarounds.models.starts import VesselStart, start_of
from brewhygiene.turnarounds.progress import CleanProgress

# A reading that waited longer than this for the record says so.
RECORDED_LATER = timedelta(minutes=30)


@dataclasses.dataclass(frozen=True)
class Event:
    """One thing done. ``flag`` names the shape beside it; ``loud`` stands out."""

    at: datetime
    what: str
    by: str
    flag: str
    flag_kind: str = "status"
    lines: tuple[str, ...] = ()
    url: str = ""
    loud: bool = False
    replaced: bool = False


def timeline_of(
    dossier: Dossier,
    *,
    causes: Sequence[FoundCause] = (),
    permits: Sequence[EntryPermit] = (),
) -> list[Event]:
    """Every event of a turnaround, the latest first. 0 queries."""
    events = [
        *_emptied(dossier),
        *(event for progress in dossier.cleans for event in _clean(progress)),
        *_results(dossier),
        *(event for plate in dossier.plates for event in _plate(plate)),
        *(_decision(decision) for decision in dossier.decisions),
        *_openings(dossier),
        *(_cause(cause) for cause in causes),
        *(event for permit in permits for event in _permit(permit)),
        *_fill(dossier),
    ]
    # Of two at the same moment the one listed later came later.
    return sorted(events, key=lambda event: event.at)[::-1]


def cause_expected(dossier: Dossier) -> bool:
    """Whether something was over a limit or held, so that a cause may be found. 0 queries."""
    over = (Verdict.ALERT, Verdict.ACTION)
    return any(result.verdict in over for result in dossier.standing_results) or any(
        decision.outcome == Outcome.HOLD for decision in dossier.decisions
    )


def _emptied(dossier: Dossier) -> Iterator[Event]:
    emptying = dossier.turnaround.emptying
    if (start := start_of(dossier.turnaround)) is not None:
        yield _started(start)
        return
    beer = emptying.fill.words if emptying.fill else str(emptying.beer or "not on record")
    lines = [f"Beer before: {beer}"]
    if emptying.co2_left:
        lines.append("CO2 left in the vessel")
    if emptying.note:
        lines.append(emptying.note)
    yield Event(
        emptying.emptied_at,
        "Emptied",
        emptying.recorded_by.display_name,
        "empty",
        lines=tuple(lines),
    )


def _started(start: VesselStart) -> Event:
    """How the turnaround stood when the vessel was put on record."""
    lines = []
    if start.on_paper and start.released_at is not None:
        lines.append(
            "Time on the paper: "
            f"{shown_moment(timezone.localtime(start.released_at), 'D d F, H:i')}"
        )
    lines.append("Put on record as it stood. Nobody recorded the emptying or the cleans before")
    return Event(
        start.recorded_at,
        start.words,
        start.recorded_by.display_name,
        "released" if start.on_paper else "empty",
        lines=tuple(lines),
        loud=True,
    )


def _clean(progress: CleanProgress) -> Iterator[Event]:
    clean: Clean = progress.clean
    name = {
        CleanPurpose.RESANITISE: "Re-sanitise",
        CleanPurpose.BEFORE_FILLING: "Sanitising before filling",
    }.get(CleanPurpose(clean.purpose), "Clean")
    url = reverse("turnarounds:clean", args=[clean.pk])
    regime = str(clean.version)
    lines = [regime]
    if clean.weaker_reason:
        lines.append(f"Weaker than proposed ({clean.proposed_regime}): {clean.weaker_reason}")
    yield Event(
        clean.started_at,
        f"{name} started",
        clean.started_by.display_name,
        "cleaning",
        lines=tuple(lines),
        url=url,
    )
    done = [f"{progress.settled_count} of {len(progress.steps)} steps"]
    for item in progress.steps:
        for deviation in item.deviations:
            text = f"Deviation: {deviation.description}"
            if deviation.disposition:
                text += f", {deviation.decided_words}"
            if deviation.reason:
                text += f": {deviation.reason}"
            done.append(text)
    if clean.finished_at and clean.finished_by:
        yield Event(
            clean.finished_at,
            f"{name} finished",
            clean.finished_by.display_name,
            "cleaning",
            lines=tuple(done),
            url=url,
        )
    elif clean.stopped_at:
        yield Event(
            clean.stopped_at,
            f"{name} stopped",
            "",
            "held",
            lines=(clean.stop_reason, *done),
            url=url,
        )


def _results(dossier: Dossier) -> Iterator[Event]:
    standing = {result.pk for result in dossier.standing_results}
    for result in dossier.results:
        yield Event(
            # A correction happened when it was made, a reading when the sample was taken.
            result.recorded_at if result.corrects_id else result.taken_at,
            f"{result.point.name}: {result.rlu} RLU",
            result.recorded_by.display_name,
            result.verdict,
            "verdict",
            lines=tuple(_about(result)),
            url=reverse("atp:reading", args=[result.pk]),
            replaced=result.pk not in standing,
        )


def _about(result: Result) -> Iterator[str]:
    where = f"{result.meter.name}, {result.moment_words}"
    if result.limits:
        where += f", limits {result.limits.alert_rlu} and {result.limits.action_rlu} RLU"
    yield where
    if result.retest_of_id:
        yield "Read again after the same clean, the earlier reading still counts"
    if result.corrects_id:
        yield f"Corrects the earlier reading: {result.correction_reason}"
    elif result.recorded_at - result.taken_at > RECORDED_LATER:
        written = timezone.localtime(result.recorded_at)
        yield f"Recorded on {shown_moment(written, 'D j M, H:i')}"
    if result.suspected_slip:
        yield "A sampling error is suspected"
    if result.note:
        yield result.note


def _plate(plate: Plate) -> Iterator[Event]:
    url = reverse("plates:plate", args=[plate.pk])
    yield Event(
        plate.taken_at,
        f"Plate sent: {plate.point.name}",
        plate.sent_by.display_name,
        PlateState.PENDING,
        lines=(f"{plate.medium}, to be read on {shown_moment(plate.due_on, 'j F')}",),
        url=url,
    )
    corrections = list(plate.corrections.all())
    for correction in corrections:
        yield Event(
            correction.was_read_at,
            f"Plate {correction.was_state}: {plate.point.name}",
            correction.was_read_by.display_name,
            correction.was_state,
            "verdict",
            lines=(
                ", ".join(
                    filter(None, (plate.medium, correction.was_words, correction.was_organism))
                ),
                f"Corrected: {correction.reason}",
            ),
            url=url,
        )
    if plate.read_at and plate.read_by:
        growth = growth_of(plate)
        grew = growth.words if growth is not None else plate.colony_words
        again = "Corrected plate, " if corrections else "Plate "
        yield Event(
            plate.read_at,
            f"{again}{plate.state}: {plate.point.name}",
            plate.read_by.display_name,
            plate.state,
            "verdict",
            lines=(", ".join(filter(None, (plate.medium, grew, plate.organism))),),
            url=url,
        )
    if plate.resolved_at and plate.resolution_signature:
        yield Event(
            plate.resolved_at,
            f"Positive plate closed: {plate.point.name}",
            plate.resolution_signature.printed_name,
            "to_decide",
            lines=(plate.resolution,),
            url=url,
        )


def _decision(decision: Decision) -> Event:
    released = decision.outcome == Outcome.RELEASE
    lines = [decision.reason] if decision.reason else []
    if released and decision.lapses_at:
        lines.insert(
            0, f"Until {shown_moment(timezone.localtime(decision.lapses_at), 'D d F, H:i')}"
        )
    lines += [f"{GATE_TITLES.get(code, code)}: {text}" for code, text in decision.waivers.items()]
    lines[:0] = decision.marks
    second = decision.second_signature
    return Event(
        decision.decided_at,
        "Released" if released else "Held",
        decision.signature.printed_name + (f" and {second.printed_name}" if second else ""),
        "released" if released else "held",
        lines=tuple(lines),
    )


def _openings(dossier: Dossier) -> Iterator[Event]:
    for opening in dossier.openings:
        yield Event(
            opening.opened_at,
            "Opened",
            opening.recorded_by.display_name,
            "lapsed",
            lines=(opening.reason,),
        )


def _permit(permit: EntryPermit) -> Iterator[Event]:
    url = reverse("turnarounds:entry", args=[permit.pk])
    yield Event(
        permit.opened_at,
        "Entry permitted",
        permit.signature.printed_name,
        "held",
        lines=(f"{permit.reason}. Inside: {permit.entrants}. Outside: {permit.attendant}",),
        url=url,
    )
    if permit.closed_at is not None and permit.closed_by is not None:
        yield Event(
            permit.closed_at,
            "Entry permit closed",
            permit.closed_by.display_name,
            "empty",
            lines=(permit.close_note,),
            url=url,
        )


def _cause(cause: FoundCause) -> Event:
    result = cause.result
    lines = [f"Cause of {result.point.name}: {result.rlu} RLU"] if result else []
    if cause.note:
        lines.append(cause.note)
    return Event(
        cause.found_at,
        f"Cause found: {cause.get_cause_display()}",
        cause.recorded_by.display_name,
        "to_decide",
        lines=tuple(lines),
    )


def _fill(dossier: Dossier) -> Iterator[Event]:
    fill = dossier.turnaround.closing_fill
    if fill is None:
        return
    lines = [fill.words]
    if fill.without_release:
        signature = fill.without_release_signature
        signed = f" ({signature.printed_name})" if signature else ""
        lines.append(f"{fill.without_release_reason}{signed}")
    yield Event(
        fill.filled_at,
        "Filled without a release" if fill.without_release else "Filled",
        fill.recorded_by.display_name,
        "in_use",
        lines=tuple(lines),
        loud=fill.without_release,
    )
