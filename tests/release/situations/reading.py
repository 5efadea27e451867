"""Situations of a vessel in words, as the truth table has them, and the records they stand for.

Nothing here touches the database: the records are made in memory, with what the pure functions
read of them, so that a situation says everything that a status and a check depend on.

Times are hours, minutes and, where wanted, seconds after the vessel was emptied. The words of
each column are explained in the head of ``truth_table.csv``.
"""

import dataclasses
from datetime import datetime, timedelta

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.by_date import ByDate, Within
from brewhygiene.people.models import User
from brewhygiene.release.queries import Dossier
from brewhygiene.release.standing.facts import (
    AllergenFound,
    CleanFacts,
    DecisionFacts,
    HoldTimes,
    ResultFacts,
    TurnaroundFacts,
    VesselFacts,
)
from brewhygiene.release.standing.paper import PaperRelease
from tests.release.situations.records import dossier_of
from tests.release.situations.words import (
    BREWER,
    EMPTIED,
    HAND,
    POINTS,
    RLU,
    TIME,
    Other,
    Sample,
    at,
    items,
    match,
)


@dataclasses.dataclass(frozen=True)
class Situation:
    """One situation: what a row of the truth table stands for."""

    now: datetime
    facts: VesselFacts
    dossier: Dossier | None  # None where no turnaround is open
    brewery: Brewery
    signer: User


def situation(
    *,
    cleans: str = "-",
    resanitises: str = "-",
    readings: str = "-",
    decisions: str = "-",
    openings: str = "-",
    other: str = "-",
    now: str,
) -> Situation:
    """The situation that the cells of a row describe."""
    words = Other(other)
    brewery = Brewery(
        name="Invented", time_zone="UTC", self_release_allowed=not words.has("self-release off")
    )
    signer = HAND if words.has("signer is the hand") else BREWER
    plate_at = words.value(rf"positive plate ({TIME})")
    closed = cleans == "none open"
    turnaround = (
        None if closed else _turnaround(cleans, resanitises, readings, decisions, openings, words)
    )
    on_paper = words.value(rf"on paper ({TIME})")
    if turnaround is not None and (words.has("emptied before the record") or on_paper):
        turnaround = dataclasses.replace(
            turnaround,
            emptied_before_record=True,
            paper=PaperRelease(at(on_paper), "R. Vane") if on_paper else None,
        )
    found_at = words.value(rf"allergen test positive after clean 1 at ({TIME})")
    if turnaround is not None and found_at:
        turnaround = dataclasses.replace(
            turnaround, allergen_found=AllergenFound(1, "milk", at(found_at))
        )
    out_at = words.value(rf"out of service ({TIME})")
    hold_times = {
        name: timedelta(hours=float(hours))
        for name in ("dirty", "clean", "sanitised")
        if (hours := words.value(rf"{name}-hold (\d+) h")) is not None
    }
    facts = VesselFacts(
        name="FV1",
        hold_times=HoldTimes(**hold_times),
        required_points={
            pk: POINTS[pk] for pk in range(1, 1 + int(words.value(r"(\d) points") or 1))
        },
        out_of_service_since=at(out_at) if out_at else None,
        out_of_service_reason="Weld" if out_at else "",
        open_positive_since=at(plate_at) if plate_at else None,
        filled_at=at(filled) if (filled := words.value(rf"filled ({TIME})")) else None,
        contents="Pale B1" if filled else "",
        filled_without_release=words.has("without release"),
        filled_before_record=words.has("before the record"),
        turnaround=turnaround,
        by_date=_by_date(words, since=at(filled) if filled else None),
    )
    moment = at(now)
    dossier = None if turnaround is None else dossier_of(facts, turnaround, words, moment)
    words.close()
    return Situation(moment, facts, dossier, brewery, signer)


def _by_date(words: Other, *, since: datetime | None) -> ByDate | None:
    """A line cleaned within a day, and with acid within two."""
    if not words.has("by date"):
        return None
    cleaned, acid = words.value(rf"cleaned ({TIME})"), words.value(rf"acid ({TIME})")
    return ByDate(Within(1, 2), at(cleaned) if cleaned else None, at(acid) if acid else None, since)


def _turnaround(
    cleans: str, resanitises: str, readings: str, decisions: str, openings: str, words: Other
) -> TurnaroundFacts:
    run = sorted(
        [(item, True) for item in items(cleans)] + [(item, False) for item in items(resanitises)],
        key=lambda pair: at(pair[0].split("-")[0]),
    )
    clean_facts = [_clean(number, text, full) for number, (text, full) in enumerate(run, 1)]
    samples = [_sample(text, clean_facts) for text in items(readings)]
    return TurnaroundFacts(
        pk=1,
        emptied_at=EMPTIED,
        cleans=clean_facts,
        results=[
            ResultFacts(
                s.clean_pk,
                s.point_pk,
                POINTS[s.point_pk],
                s.verdict,
                s.rlu,
                s.recorded_at,
                in_doubt_since=at(failed)
                if (
                    failed := words.value(
                        rf"control check failed after reading {number} at ({TIME})"
                    )
                )
                else None,
                meter="M1",
            )
            for number, s in enumerate(samples, 1)
        ],
        decisions=[_decision(text) for text in items(decisions)],
        openings=[at(text) for text in items(openings)],
    )


def _clean(number: int, text: str, full: bool) -> CleanFacts:
    found = match(
        rf"({TIME})-({TIME})?( stopped)?(?: sanitised ({TIME}))?( for filling)?( accepted)?", text
    )
    began, ended, stopped, sanitised, for_filling, accepted = found.groups()
    return CleanFacts(
        pk=number,
        is_clean=full,
        regime="Hot" if full else "Spray",
        started_at=at(began),
        finished_at=at(ended) if ended and not stopped else None,
        sanitised_at=at(sanitised) if sanitised else None,
        stopped_at=at(ended) if stopped else None,
        before_filling=bool(for_filling),
        accepted=bool(accepted),
    )


def _sample(text: str, cleans: list[CleanFacts]) -> Sample:
    """A reading belongs to the clean or re-sanitise that was finished last before it."""
    found = match(rf"(\w+) (\w+)(?: (\d+))? ({TIME})(?: of (\d))?", text)
    point, verdict, rlu, when, of = found.groups()
    moment = at(when)
    before = [c.pk for c in cleans if c.finished_at is not None and c.finished_at <= moment]
    return Sample(
        clean_pk=int(of) if of else before[-1],
        point_pk={name: pk for pk, name in POINTS.items()}[point],
        verdict=verdict,
        rlu=int(rlu) if rlu else RLU[verdict],
        recorded_at=moment,
    )


def _decision(text: str) -> DecisionFacts:
    outcome, when, until, no_meter = match(
        rf"(hold|release) ({TIME})(?: until ({TIME}))?( without a meter)?", text
    ).groups()
    return DecisionFacts(
        clean_pk=1,
        outcome=outcome,
        decided_at=at(when),
        by="Mara Oduya",
        reason="Smells" if outcome == "hold" else "",
        lapses_at=at(until) if until else None,
        by_meter=not no_meter,
    )
