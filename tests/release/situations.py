"""Situations of a vessel in words, as the truth table has them, and the records they stand for.

Nothing here touches the database: the records are made in memory, with what the pure functions
read of them, so that a situation says everything that a status and a check depend on.

Times are hours, minutes and, where wanted, seconds after the vessel was emptied. The words of
each column are explained in the head of ``truth_table.csv``.
"""

import dataclasses
import re
from datetime import UTC, datetime, timedelta

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, ControlCheck, Meter
from brewhygiene.atp.models.readings import Result, RinseEnd, SampleStage, Verdict
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import CleanLevel, SamplingPoint, Vessel
from brewhygiene.people.models import User
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.regimes.models import (
    ActiveSubstance,
    Agent,
    Regime,
    RegimeVersion,
    Step,
    StepKind,
)
from brewhygiene.release.queries import Dossier
from brewhygiene.release.status import (
    CleanFacts,
    DecisionFacts,
    HoldTimes,
    ResultFacts,
    TurnaroundFacts,
    VesselFacts,
    status_of,
)
from brewhygiene.turnarounds.models import (
    Clean,
    CleanPurpose,
    Deviation,
    Disposition,
    SafetyAcknowledgement,
    StepRecord,
    Turnaround,
    VesselOpening,
)
from brewhygiene.turnarounds.progress import CleanProgress, StepProgress

EMPTIED = datetime(2026, 3, 10, 6, 0, tzinfo=UTC)
POINTS = {1: "Cone", 2: "Arm", 3: "Lid"}
RLU = {"clear": 5, "alert": 20, "action": 40, "unjudged": 7}
HAND = User(pk=1, username="hand", full_name="Jonas Feld")
BREWER = User(pk=2, username="brewer", full_name="Mara Oduya")
TIME = r"-?\d+:\d\d(?::\d\d)?"


def at(text: str) -> datetime:
    """A time after emptying: "3:10" or, to the second, "3:10:59"."""
    hours, minutes, *seconds = (int(part) for part in text.lstrip("-").split(":"))
    passed = timedelta(hours=hours, minutes=minutes, seconds=sum(seconds))
    return EMPTIED - passed if text.startswith("-") else EMPTIED + passed


def shown(moment: datetime | None) -> str:
    """The opposite of :func:`at`; "-" for none."""
    if moment is None:
        return "-"
    seconds = round((moment - EMPTIED).total_seconds())
    hours, rest = divmod(seconds, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02}" + (f":{seconds:02}" if seconds else "")


def _items(cell: str) -> list[str]:
    return [item.strip() for item in cell.split(";") if item.strip() not in ("", "-")]


def _match(pattern: str, text: str) -> re.Match[str]:
    found = re.fullmatch(pattern, text)
    if found is None:
        raise ValueError(f"Not understood: {text!r}")
    return found


@dataclasses.dataclass(frozen=True)
class Sample:
    clean_pk: int
    point_pk: int
    verdict: str
    rlu: int
    recorded_at: datetime


class Other:
    """The words of the column of other facts; each has to be asked for, or it is refused."""

    def __init__(self, cell: str) -> None:
        self._left = set(_items(cell))

    def has(self, word: str) -> bool:
        found = word in self._left
        self._left.discard(word)
        return found

    def numbered(self, word: str, number: int) -> bool:
        """Whether ``word`` was said of the ``number``-th (from 1) of its kind."""
        return self.has(f"{word} {number}")

    def value(self, pattern: str) -> str | None:
        """What stands in the group of a pattern."""
        for item in sorted(self._left):
            if found := re.fullmatch(pattern, item):
                self._left.discard(item)
                return found.group(1)
        return None

    def close(self) -> None:
        if self._left:
            raise ValueError(f"Not understood: {sorted(self._left)}")


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
    turnaround = None if closed else _turnaround(cleans, resanitises, readings, decisions, openings)
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
        turnaround=turnaround,
    )
    moment = at(now)
    dossier = None if turnaround is None else _dossier(facts, turnaround, words, moment)
    words.close()
    return Situation(moment, facts, dossier, brewery, signer)


def _turnaround(
    cleans: str, resanitises: str, readings: str, decisions: str, openings: str
) -> TurnaroundFacts:
    run = sorted(
        [(item, True) for item in _items(cleans)] + [(item, False) for item in _items(resanitises)],
        key=lambda pair: at(pair[0].split("-")[0]),
    )
    clean_facts = [_clean(number, text, full) for number, (text, full) in enumerate(run, 1)]
    samples = [_sample(text, clean_facts) for text in _items(readings)]
    return TurnaroundFacts(
        pk=1,
        emptied_at=EMPTIED,
        cleans=clean_facts,
        results=[
            ResultFacts(s.clean_pk, s.point_pk, POINTS[s.point_pk], s.verdict, s.rlu, s.recorded_at)
            for s in samples
        ],
        decisions=[_decision(text) for text in _items(decisions)],
        openings=[at(text) for text in _items(openings)],
    )


def _clean(number: int, text: str, full: bool) -> CleanFacts:
    found = _match(rf"({TIME})-({TIME})?( stopped)?(?: sanitised ({TIME}))?", text)
    began, ended, stopped, sanitised = found.groups()
    return CleanFacts(
        pk=number,
        is_clean=full,
        regime="Hot" if full else "Spray",
        started_at=at(began),
        finished_at=at(ended) if ended and not stopped else None,
        sanitised_at=at(sanitised) if sanitised else None,
        stopped_at=at(ended) if stopped else None,
    )


def _sample(text: str, cleans: list[CleanFacts]) -> Sample:
    """A reading belongs to the clean or re-sanitise that was finished last before it."""
    found = _match(rf"(\w+) (\w+)(?: (\d+))? ({TIME})(?: of (\d))?", text)
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
    outcome, when, until = _match(rf"(hold|release) ({TIME})(?: until ({TIME}))?", text).groups()
    return DecisionFacts(
        clean_pk=1,
        outcome=outcome,
        decided_at=at(when),
        by="Mara Oduya",
        reason="Smells" if outcome == "hold" else "",
        lapses_at=at(until) if until else None,
    )


# ---- the records, as far as the checks read them ----


def _keep(instance: object, **rows: list) -> None:  # type: ignore[type-arg]
    """Give a record its related rows, as a prefetch would."""
    instance.__dict__.setdefault("_prefetched_objects_cache", {}).update(rows)


def _dossier(
    facts: VesselFacts, turnaround: TurnaroundFacts, words: Other, now: datetime
) -> Dossier:
    vessel = Vessel(pk=1, name=facts.name, kind="fermenter", volume_hl=30)
    row = Turnaround(pk=1, vessel=vessel, opened_at=turnaround.emptied_at)
    cleans = [_clean_row(row, clean, words) for clean in turnaround.cleans]
    rows = {progress.clean.pk: progress.clean for progress in cleans}
    results = [
        _result_row(number, result, rows[result.clean_pk], words)
        for number, result in enumerate(turnaround.results, 1)
    ]
    positive = facts.open_positive_since is not None
    growing = int(words.value(r"(\d) plates? growing") or 0)
    read = int(words.value(r"(\d) plates? read") or 0)
    plates = [Plate(pk=9, state=PlateState.PENDING)] * growing
    plates += [Plate(pk=7, state=PlateState.NEGATIVE)] * read
    return Dossier(
        turnaround=row,
        facts=facts,
        status=status_of(facts, now),
        cleans=cleans,
        results=results,
        plates=plates,
        open_plates=[Plate(pk=8, point=SamplingPoint(name="Cone"), medium="WLN")]
        if positive
        else [],
        decisions=[],
        openings=[
            VesselOpening(opened_at=moment, reason=f"Opening {number}")
            for number, moment in enumerate(turnaround.openings, 1)
        ],
        failed_checks_later=frozenset(
            result.pk
            for number, result in enumerate(results, 1)
            if words.numbered("control check failed after reading", number)
        ),
        record_hash="",
        entries=0,
    )


def _clean_row(turnaround: Turnaround, facts: CleanFacts, words: Other) -> CleanProgress:
    """A clean of two steps: a rinse, which needs no caution, and peracetic acid, which does."""
    n = facts.pk
    weaker = words.numbered("weaker regime", n)
    regime = Regime(
        name=facts.regime,
        level=CleanLevel.ORDINARY if weaker else CleanLevel.STRONG,
        vessel_kinds=["fermenter"],
        resanitises_only=not facts.is_clean,
    )
    version = RegimeVersion(pk=n, regime=regime, number=1)
    agent = Agent(name="Peracetic acid", active_substance=ActiveSubstance.PAA)
    rinse = Step(pk=10 * n, version=version, order=1, kind=StepKind.RINSE)
    acid = Step(pk=10 * n + 1, version=version, order=2, kind=StepKind.SANITISER, agent=agent)
    plain = words.numbered("no cautions", n)
    steps = [rinse] if plain else [rinse, acid]
    for step in steps:
        _keep(step, windows=[])
    _keep(version, steps=steps)
    clean = Clean(
        pk=n,
        turnaround=turnaround,
        version=version,
        purpose=CleanPurpose.CLEAN if facts.is_clean else CleanPurpose.RESANITISE,
        proposed_regime="Strong" if weaker else "",
        proposal_reasons=["Sour before"] if weaker else [],
        weaker_reason="In a hurry" if weaker else "",
        started_at=facts.started_at,
        started_by=HAND,
        finished_at=facts.finished_at,
        finished_by=HAND,
        sanitised_at=facts.sanitised_at,
        stopped_at=facts.stopped_at,
    )
    told = words.numbered("no caution acknowledged", n)
    other = words.numbered("one caution of another step acknowledged", n)
    _keep(
        clean,
        acknowledgements=[]
        if told
        else [SafetyAcknowledgement(step=rinse if other else acid, codes=["peracetic"])],
    )
    left_out = words.numbered("step left out", n)
    by = BREWER if words.numbered("brewer ran a step", n) else HAND
    if words.numbered("brewer started clean", n):
        clean.started_by = BREWER
    progress = []
    for step in steps:
        record = StepRecord(pk=step.pk, clean=clean, step=step, started_at=facts.started_at)
        record.started_by = by if step is steps[-1] else HAND
        deviations = _deviations(record, words, n) if step is steps[-1] else []
        _keep(record, readings=[], deviations=deviations)
        progress.append(
            StepProgress(
                step=step,
                state="left_out" if left_out and step is steps[-1] else "done",
                attempts=[record],
                open_deviations=[d for d in deviations if not d.disposition],
            )
        )
    return CleanProgress(clean=clean, steps=progress)


def _deviations(record: StepRecord, words: Other, number: int) -> list[Deviation]:
    return [
        Deviation(
            pk=100 * number + place,
            record=record,
            description="Strength 60 mg/L: below 80 mg/L",
            disposition=disposition,
            reason="Read late" if disposition else "",
            disposed_by=HAND if disposition else None,
        )
        for place, disposition in enumerate(["", *Disposition.values])
        if words.numbered(f"deviation {disposition or 'open'}", number)
    ]


def _result_row(number: int, facts: ResultFacts, clean: Clean, words: Other) -> Result:
    meter = Meter(pk=1, name="Meter 1")
    atp_test = AtpTest(pk=1, name="Rinse sampler", sample_kind="rinse")
    day = facts.recorded_at.date()
    expired = words.numbered("lot out of date at reading", number)
    last_day = words.numbered("lot on its last day at reading", number)
    lot = AtpTestLot(
        pk=1,
        atp_test=atp_test,
        lot="L1",
        expires_on=day - timedelta(days=1)
        if expired
        else day + timedelta(days=0 if last_day else 90),
    )
    check = ControlCheck(
        meter=meter,
        checked_on=day,
        blank_rlu=0,
        positive_rlu=200,
        passed=not words.numbered("control check failed before reading", number),
    )
    limits = LimitSet(meter=meter, atp_test=atp_test, alert_rlu=10, action_rlu=30)
    return Result(
        pk=number,
        clean=clean,
        point=SamplingPoint(pk=facts.point_pk, name=facts.point),
        meter=meter,
        test_lot=lot,
        control_check=None if words.numbered("no control check before reading", number) else check,
        limits=None if facts.verdict == Verdict.UNJUDGED else limits,
        rlu=facts.rlu,
        verdict=facts.verdict,
        stage=SampleStage.AFTER_SANITISER,
        rinse_end=RinseEnd.NOT_CHECKED
        if words.numbered("rinse end not checked at reading", number)
        else RinseEnd.SANITISER_LEFT,
        note="Wet" if words.numbered("note at reading", number) else "",
        taken_at=facts.recorded_at,
        recorded_at=facts.recorded_at,
        recorded_by=BREWER if words.numbered("brewer read", number) else HAND,
    )
