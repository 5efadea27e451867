"""Carrying the invented brewery's paper log over: one closed turnaround, one ledger entry."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from brewhygiene.atp.models.causes import FoundCause
from brewhygiene.atp.models.meters import ControlCheck, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Emptying, Fill
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.demo.paper_year.rows import PaperClean, PaperReading, PaperStep, PaperTurn
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.models import Signature, User
from brewhygiene.people.permissions import require
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.regimes.models import Quantity, StepKind
from brewhygiene.release.models import Decision, Outcome
from brewhygiene.science.judging import judge_rlu, judge_window
from brewhygiene.turnarounds.models import (
    Clean,
    ReadingStage,
    StepReading,
    StepRecord,
    Turnaround,
    WindowVerdict,
)
from brewhygiene.turnarounds.models.deviations import Deviation, DeviationKind, Disposition
from brewhygiene.turnarounds.moments import EndedStep, moment_of
from brewhygiene.turnarounds.quantities import quantity_title, show_value

ON_PAPER = "Carried over from the brewery's paper log (invented)"


HOLD_REASON = "Over the limit: cleaned again, the points by hand"


@action("carry over from paper")
def carry_over(*, by: Actor, turn: PaperTurn, brewery: Brewery) -> Recorded[Turnaround]:
    """Write one line of the paper log: a turnaround from emptied to filled."""
    require(by, "edit_setup")
    emptying = Emptying.objects.create(
        vessel=turn.vessel,
        fill=turn.held,
        beer=turn.beer_before,
        emptied_at=turn.emptied_at,
        note=ON_PAPER,
        recorded_by=turn.who,
    )
    turnaround = Turnaround.objects.create(
        vessel=turn.vessel,
        emptying=emptying,
        next_beer=turn.beer,
        opened_at=turn.emptied_at,
    )
    moment = turn.emptied_at + timedelta(minutes=35)
    said: list[dict[str, Any]] = []
    for number, paper in enumerate(turn.cleans):
        clean = _clean(turn, turnaround, paper, begins=moment, brewery=brewery)
        assert clean.finished_at is not None
        results = _swabs(by, turn, clean, paper)
        last = number == len(turn.cleans) - 1
        moment = clean.finished_at + timedelta(minutes=45)
        if number == 0 and turn.cause:
            _found_cause(turn, results, at=moment)
        if last:
            _plates(turn, turnaround, at=moment - timedelta(minutes=10))
        _decide(turn, clean, Outcome.RELEASE if last else Outcome.HOLD, at=moment)
        said.append(
            {
                "regime": str(paper.version),
                "finished_at": clean.finished_at,
                "results": {result.point.name: result.rlu for result in results},
            }
        )
        moment += timedelta(minutes=30)
    fill = Fill.objects.create(
        vessel=turn.vessel,
        beer=turn.beer,
        batch=turn.batch,
        volume_hl=round(turn.vessel.volume_hl * 0.9, 2),
        filled_at=moment,
        recorded_by=turn.who,
    )
    turnaround.closed_at = moment
    turnaround.closing_fill = fill
    turnaround.save(update_fields=["closed_at", "closing_fill"])
    return Recorded(
        turnaround,
        {
            "from": ON_PAPER,
            "page": turn.page,
            "vessel": turn.vessel.name,
            "emptied_at": turn.emptied_at,
            "held": turn.beer_before.name,
            "cleans": said,
            "cause": turn.cause,
            "plates": [[plate.point.name, plate.organism or "nothing"] for plate in turn.plates],
            "filled_with": str(fill),
        },
        aggregate=turnaround,
    )


def _clean(
    turn: PaperTurn,
    turnaround: Turnaround,
    paper: PaperClean,
    *,
    begins: datetime,
    brewery: Brewery,
) -> Clean:
    """The clean with its steps, readings and what was accepted of them."""
    clean = Clean(
        turnaround=turnaround,
        version=paper.version,
        proposed_regime=paper.version.regime.name,
        required_level=paper.version.regime.level,
        started_at=begins,
        started_by=turn.who,
        finished_by=turn.who,
    )
    records, readings, deviations = [], [], []
    moment = begins + timedelta(minutes=4)
    for one in paper.steps:
        ends = moment + timedelta(minutes=one.minutes)
        record = StepRecord(
            clean=clean,
            step=one.step,
            started_at=moment,
            started_by=turn.who,
            ended_at=ends,
            ended_by=turn.who,
            left_out=one.left_out,
            end_criterion_met=not one.missed if one.step.end_criterion else None,
            agent_lot=one.agent_lot,
            note=one.missed if one.left_out else "",
        )
        records.append(record)
        own = [_reading(turn, record, reading, brewery=brewery) for reading in one.readings]
        readings += own
        if one.missed:
            deviations.append(_missed(turn, record, one))
        deviations += [
            _outside(turn, record, reading, given, brewery=brewery)
            for reading, given in zip(own, one.readings, strict=True)
            if reading.verdict in (WindowVerdict.BELOW, WindowVerdict.ABOVE)
        ]
        if one.step.kind in (StepKind.SANITISER, StepKind.HOT_WATER):
            clean.sanitised_at = ends
        moment = ends + timedelta(minutes=1)
    clean.finished_at = moment
    clean.save(force_insert=True)
    StepRecord.objects.bulk_create(records)
    StepReading.objects.bulk_create(readings)
    Deviation.objects.bulk_create(deviations)
    return clean


def _reading(
    turn: PaperTurn, record: StepRecord, given: PaperReading, *, brewery: Brewery
) -> StepReading:
    window = given.window
    basis = window.basis if window is not None else ""
    verdict = WindowVerdict.NO_WINDOW
    if window is not None:
        verdict = WindowVerdict(
            judge_window(value=given.value, minimum=window.minimum, maximum=window.maximum)
        )
    timed = given.quantity == Quantity.TIME_MIN
    assert record.ended_at is not None
    return StepReading(
        record=record,
        quantity=given.quantity,
        stage=ReadingStage.END if timed else ReadingStage.RETURN,
        value=given.value,
        source=ValueSource.IMPORTED,
        basis=basis,
        typed=show_value(given.value, quantity=given.quantity, basis=basis, brewery=brewery),
        judged_value=given.value if window is not None else None,
        verdict=verdict,
        taken_at=record.ended_at if timed else record.started_at + timedelta(minutes=3),
        taken_by=turn.who,
    )


def _outside(
    turn: PaperTurn,
    record: StepRecord,
    reading: StepReading,
    given: PaperReading,
    *,
    brewery: Brewery,
) -> Deviation:
    window = given.window
    assert window is not None
    bound = window.minimum if reading.verdict == WindowVerdict.BELOW else window.maximum
    limit = show_value(bound or 0, quantity=reading.quantity, basis=window.basis, brewery=brewery)
    return Deviation(
        record=record,
        reading=reading,
        kind=DeviationKind(reading.verdict),
        quantity=reading.quantity,
        description=(
            f"{quantity_title(reading.quantity, reading.typed)}, "
            f"{reading.get_stage_display()}: {reading.verdict} {limit}"
        )[:200],
        found_at=reading.taken_at,
        disposition=Disposition.ACCEPT,
        reason=given.reason or "Accepted on paper",
        disposed_at=record.ended_at,
        disposed_by=turn.who,
    )


def _missed(turn: PaperTurn, record: StepRecord, given: PaperStep) -> Deviation:
    title = given.step.get_kind_display()
    if given.left_out:
        kind, words = DeviationKind.LEFT_OUT, f"{title} left out: {given.missed}"
    else:
        kind = DeviationKind.END_NOT_MET
        words = f"{title}: not reached: {given.step.get_end_criterion_display()}"
    assert record.ended_at is not None
    return Deviation(
        record=record,
        kind=kind,
        description=words[:200],
        found_at=record.ended_at,
        disposition=Disposition.ACCEPT,
        reason=given.missed,
        disposed_at=record.ended_at,
        disposed_by=turn.who,
    )


def _swabs(by: Actor, turn: PaperTurn, clean: Clean, paper: PaperClean) -> list[Result]:
    kinds = [one.step.kind for one in paper.steps]
    place = kinds.index(StepKind.SAMPLE)
    moment = moment_of(
        [
            EndedStep(one.step.kind, not one.missed)
            for one in paper.steps[:place]
            if not one.left_out
        ],
        kinds[place + 1 :],
    )
    step = clean.step_records.get(step__kind=StepKind.SAMPLE)
    results = []
    for number, swab in enumerate(paper.swabs):
        results.append(
            Result(
                turnaround=clean.turnaround,
                clean=clean,
                point=swab.point,
                meter=swab.meter,
                test_lot=swab.lot,
                control_check=swab.check,
                limits=swab.limits,
                rlu=swab.rlu,
                source=ValueSource.IMPORTED,
                verdict=judge_rlu(
                    rlu=swab.rlu,
                    alert_rlu=swab.limits.alert_rlu if swab.limits else None,
                    action_rlu=swab.limits.action_rlu if swab.limits else None,
                ),
                moment=moment,
                rinse_end="tap" if moment == SamplingMoment.RINSE_PROVED else "neutral",
                taken_at=step.started_at + timedelta(minutes=3 + 3 * number),
                recorded_at=by.now,
                recorded_by=turn.who,
            )
        )
    return Result.objects.bulk_create(results)


def _found_cause(turn: PaperTurn, results: Sequence[Result], *, at: datetime) -> None:
    worst = max(results, key=lambda result: result.rlu)
    FoundCause.objects.create(
        turnaround=worst.turnaround,
        result=worst,
        cause=turn.cause,
        note=turn.cause_note,
        found_at=at,
        recorded_by=turn.who,
    )


def _signed(user: User, meaning: str, at: datetime) -> Signature:
    return Signature.objects.create(
        user=user,
        printed_name=user.display_name,
        meaning=f"{meaning}, signed in the paper log",
        signed_at=at,
    )


def _decide(turn: PaperTurn, clean: Clean, outcome: Outcome, *, at: datetime) -> None:
    held = outcome == Outcome.HOLD
    Decision.objects.create(
        turnaround=clean.turnaround,
        clean=clean,
        outcome=outcome,
        decided_at=at,
        signature=_signed(turn.releases, "Held" if held else "Released", at),
        reason=HOLD_REASON if held else "",
        gates=[],
        lapses_at=None if held else at + timedelta(hours=12),
        self_release=not held and turn.who == turn.releases,
    )


def _plates(turn: PaperTurn, turnaround: Turnaround, *, at: datetime) -> None:
    for given in turn.plates:
        due = at + timedelta(days=7)
        plate = Plate(
            vessel=turn.vessel,
            turnaround=turnaround,
            point=given.point,
            medium="WLN",
            incubation_c=28,
            incubation_days=7,
            taken_at=at,
            due_on=due.date(),
            sent_by=turn.who,
            state=PlateState.POSITIVE if given.organism else PlateState.NEGATIVE,
            colonies=given.colonies if given.organism else None,
            source=ValueSource.IMPORTED,
            organism=given.organism,
            read_at=due,
            read_by=turn.releases,
        )
        if given.organism:
            plate.resolved_at = due + timedelta(days=2)
            plate.resolution = "Beer watched and tasted: nothing of it found. The place cleaned."
            plate.resolution_signature = _signed(
                turn.releases, "Closed a positive plate", plate.resolved_at
            )
        plate.save(force_insert=True)


@action("carry over control checks")
def carry_over_checks(
    *, by: Actor, meter: Meter, checks: Sequence[ControlCheck]
) -> Recorded[Meter]:
    """Write a meter's control checks as they stood in the paper log."""
    require(by, "edit_setup")
    ControlCheck.objects.bulk_create(checks)
    return Recorded(
        meter,
        {
            "from": ON_PAPER,
            "checks": len(checks),
            "failed": [check.checked_on for check in checks if not check.passed],
        },
    )
