"""The records that a situation stands for, as far as the checks read them."""

from datetime import datetime, timedelta

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, ControlCheck, Meter
from brewhygiene.atp.models.readings import Result, RinseEnd, SampleStage, Verdict
from brewhygiene.cellar.models import CleanLevel, SamplingPoint, Vessel
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.delivery.models import Arrival
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
from brewhygiene.release.standing.facts import CleanFacts, ResultFacts, TurnaroundFacts, VesselFacts
from brewhygiene.release.status import status_of
from brewhygiene.turnarounds.models import (
    Clean,
    CleanPurpose,
    SafetyAcknowledgement,
    StepRecord,
    Turnaround,
    VesselOpening,
)
from brewhygiene.turnarounds.models.deviations import Deviation, Disposition
from brewhygiene.turnarounds.progress import CleanProgress, StepProgress
from tests.release.situations.changeovers import changeover_in
from tests.release.situations.words import BREWER, HAND, Other


def _keep(instance: object, **rows: list) -> None:  # type: ignore[type-arg]
    """Give a record its related rows, as a prefetch would."""
    instance.__dict__.setdefault("_prefetched_objects_cache", {}).update(rows)


def dossier_of(
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
        recovery_studies=[],
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
            or turnaround.results[number - 1].in_doubt_since is not None
        ),
        record_hash="",
        entries=0,
        changeover=changeover_in(words, cleans, now),
        stated_names=[Arrival(name="record reading", subject_label="pH 7", person=HAND)]
        if words.has("a name only stated")
        else [],
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
    heated = words.numbered("hot water before the rinse", n)
    hot = Step(pk=10 * n + 2, version=version, order=0, kind=StepKind.HOT_WATER)
    if heated:
        steps.insert(0, hot)
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
    acknowledged = [SafetyAcknowledgement(step=rinse if other else acid, codes=["peracetic"])]
    if heated:
        acknowledged.append(SafetyAcknowledgement(step=hot, codes=["vented"]))
    if words.numbered("cold into hot acknowledged", n):
        acknowledged.append(SafetyAcknowledgement(step=rinse, codes=["cold_after_hot"]))
    _keep(clean, acknowledgements=[] if told else acknowledged)
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
                extend=False,
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
        moment=SamplingMoment.IN_SANITISER
        if words.numbered("read in the sanitiser at reading", number)
        else SamplingMoment.UNKNOWN,
        stage=SampleStage.AFTER_SANITISER,
        rinse_end=RinseEnd.NOT_CHECKED
        if words.numbered("rinse end not checked at reading", number)
        else RinseEnd.SANITISER_LEFT,
        note="Wet" if words.numbered("note at reading", number) else "",
        taken_at=facts.recorded_at,
        recorded_at=facts.recorded_at,
        recorded_by=BREWER if words.numbered("brewer read", number) else HAND,
    )
