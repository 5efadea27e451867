"""Verbs of the meters: control checks, limits, results."""

from datetime import date, datetime

from brewhygiene.atp.judging import judge_waiting_results, write_successor
from brewhygiene.atp.limit_days import check_limit_days
from brewhygiene.atp.models import (
    MAX_RLU,
    ControlCheck,
    LimitSet,
    LimitSource,
    Meter,
    Result,
    RinseEnd,
    SampleStage,
    StickLot,
    StickType,
    Verdict,
)
from brewhygiene.atp.queries import (
    brewery_day,
    control_check_of_day,
    limits_in_force,
    to_sample,
)
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.ledger.door import Actor, Written, verb
from brewhygiene.people.permissions import may, require
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal
from brewhygiene.science.judging import judge_rlu
from brewhygiene.turnarounds.actions import check_when, lock_open_turnaround, raise_revision
from brewhygiene.turnarounds.models import Turnaround


def _check_rlu(value: int, *, field: str) -> None:
    if not 0 <= value <= MAX_RLU:
        raise Refusal(
            f"{value} RLU cannot be. Meters show whole numbers from 0 to {MAX_RLU}.", field=field
        )


@verb("check meter")
def record_control_check(
    *, by: Actor, meter: Meter, blank_rlu: int, positive_rlu: int, note: str = ""
) -> Written[ControlCheck]:
    """Record a meter's blank and positive reading, in RLU; it passes or fails by its ranges."""
    user = require(by, "work_cellar")
    _check_rlu(blank_rlu, field="blank_rlu")
    _check_rlu(positive_rlu, field="positive_rlu")
    if not meter.active:
        raise Refusal(f"{meter.name} is out of use.", field="meter")
    check = ControlCheck.objects.create(
        meter=meter,
        checked_at=by.now,
        checked_on=brewery_day(by.now, Brewery.current()),
        blank_rlu=blank_rlu,
        positive_rlu=positive_rlu,
        passed=meter.blank_within(blank_rlu) and meter.positive_within(positive_rlu),
        checked_by=user,
        note=note.strip(),
    )
    return Written(
        check,
        {
            "meter": meter.name,
            "blank_rlu": blank_rlu,
            "positive_rlu": positive_rlu,
            "blank_max_rlu": meter.blank_max_rlu,
            "positive_min_rlu": meter.positive_min_rlu,
            "positive_max_rlu": meter.positive_max_rlu,
            "passed": check.passed,
            "note": check.note,
        },
    )


@verb("propose limits")
def propose_limits(
    *,
    by: Actor,
    meter: Meter,
    stick_type: StickType,
    alert_rlu: int,
    action_rlu: int,
    source: str,
    source_note: str,
    review_on: date,
    valid_until: date | None = None,
    point: SamplingPoint | None = None,
) -> Written[LimitSet]:
    """Write down limits, in RLU of this meter, that a head brewer has yet to approve."""
    user = require(by, "approve_limits")
    _check_rlu(alert_rlu, field="alert_rlu")
    _check_rlu(action_rlu, field="action_rlu")
    if alert_rlu > action_rlu:
        raise Refusal("The alert level cannot be above the action limit.", field="alert_rlu")
    if source not in LimitSource.values:
        raise Refusal("Say where the limits come from.", field="source")
    if not source_note.strip():
        raise Refusal("Say where exactly the limits come from.", field="source_note")
    if point is not None and point.sample_kind != stick_type.sample_kind:
        raise Refusal(
            f"{point} is a {point.sample_kind} point; {stick_type.name} is a "
            f"{stick_type.sample_kind} stick.",
            field="point",
        )
    check_limit_days(
        today=brewery_day(by.now, Brewery.current()), review_on=review_on, valid_until=valid_until
    )
    limits = LimitSet.objects.create(
        meter=meter,
        stick_type=stick_type,
        sample_kind=stick_type.sample_kind,
        point=point,
        alert_rlu=alert_rlu,
        action_rlu=action_rlu,
        source=source,
        source_note=source_note.strip(),
        proposed_at=by.now,
        proposed_by=user,
        review_on=review_on,
        valid_until=valid_until,
    )
    return Written(
        limits,
        {
            "meter": meter.name,
            "stick_type": stick_type.name,
            "point": str(point) if point else "all points",
            "alert_rlu": alert_rlu,
            "action_rlu": action_rlu,
            "source": source,
            "source_note": limits.source_note,
            "review_on": review_on,
            "valid_until": valid_until,
        },
    )


@verb("approve limits")
def approve_limits(*, by: Actor, limits: LimitSet, password: str) -> Written[LimitSet]:
    """Sign proposed limits, which puts them in force and retires those before them.

    Results judged by the earlier set keep their verdict; those of open turnarounds that waited
    for limits are judged by these.
    """
    require(by, "approve_limits")
    limits = LimitSet.objects.select_for_update(of=("self",)).get(pk=limits.pk)
    if limits.approved_at is not None:
        raise Refusal("These limits were approved already.", code="already_approved")
    if limits.retired_at is not None:
        raise Refusal("These limits were withdrawn.", code="retired")
    if limits.run_out_on(brewery_day(by.now, Brewery.current())):
        raise Refusal(
            "These limits have run out since they were proposed. Propose them anew.",
            code="run_out",
        )
    signature = sign(
        by=by,
        password=password,
        meaning=f"Approved limits {limits.alert_rlu}/{limits.action_rlu} RLU",
    )
    retired = LimitSet.objects.filter(
        meter_id=limits.meter_id,
        stick_type_id=limits.stick_type_id,
        sample_kind=limits.sample_kind,
        point_id=limits.point_id,
        approved_at__isnull=False,
        retired_at__isnull=True,
    )
    retired_ids = list(retired.values_list("pk", flat=True))
    retired.update(retired_at=by.now)
    limits.approved_at = by.now
    limits.approval = signature
    limits.save(update_fields=["approved_at", "approval"])
    judged = judge_waiting_results(by=by, limits=limits)
    return Written(
        limits,
        {
            "limits": str(limits),
            "retired": retired_ids,
            "judged": [
                {"result": r.corrects_id, "by_result": r.pk, "rlu": r.rlu, "verdict": r.verdict}
                for r in judged
            ],
        },
    )


@verb("withdraw limits")
def withdraw_limits(*, by: Actor, limits: LimitSet, password: str) -> Written[LimitSet]:
    """Take limits out of force; from then on readings under them are unjudged."""
    require(by, "approve_limits")
    limits = LimitSet.objects.select_for_update(of=("self",)).get(pk=limits.pk)
    if limits.retired_at is not None:
        raise Refusal("These limits are withdrawn already.", code="retired")
    sign(by=by, password=password, meaning=f"Withdrew limits {limits}"[:200])
    limits.retired_at = by.now
    limits.save(update_fields=["retired_at"])
    return Written(limits, {"limits": str(limits)})


def _check_stick(*, stick_lot: StickLot, point: SamplingPoint, day: date) -> None:
    if stick_lot.stick_type.sample_kind != point.sample_kind:
        raise Refusal(
            f"{point.name} takes a {point.get_sample_kind_display()} stick; "
            f"{stick_lot.stick_type.name} is for {stick_lot.stick_type.sample_kind}.",
            field="stick_lot",
            code="wrong_stick",
        )
    if stick_lot.expires_on < day:
        raise Refusal(
            f"Lot {stick_lot.lot} was good until {stick_lot.expires_on:%d %B %Y}. "
            "Take a stick from a lot in date.",
            field="stick_lot",
            code="stick_expired",
        )
    if not stick_lot.active:
        raise Refusal(f"Lot {stick_lot.lot} is out of use.", field="stick_lot")


def _check_meter(*, meter: Meter, day: date) -> ControlCheck:
    if not meter.active:
        raise Refusal(f"{meter.name} is out of use.", field="meter")
    check = control_check_of_day(meter=meter, day=day)
    if check is None:
        raise Refusal(
            f"{meter.name} has no control check on {day:%d %B}. Check it first.",
            field="meter",
            code="no_control_check",
        )
    if not check.passed:
        raise Refusal(
            f"{meter.name} failed its control check on {day:%d %B}. Use another meter, or check "
            "it again with a fresh control.",
            field="meter",
            code="control_check_failed",
        )
    return check


@verb("record result")
def record_result(
    *,
    by: Actor,
    turnaround: Turnaround,
    point: SamplingPoint,
    meter: Meter,
    stick_lot: StickLot,
    rlu: int,
    rinse_end: str,
    stage: str,
    taken_at: datetime | None = None,
    suspected_slip: bool = False,
    note: str = "",
) -> Written[Result]:
    """Record a stick's reading, in RLU, and judge it by this meter's limits at once.

    ``stick_lot`` with its stick type. A point read again after the same clean is a retest: both
    readings stand.
    """
    user = require(by, "work_cellar")
    turnaround = lock_open_turnaround(turnaround)
    _check_rlu(rlu, field="rlu")
    if point.vessel_id != turnaround.vessel_id or not point.active:
        raise Refusal(
            f"{point.name} is no sampling point of {turnaround.vessel.name}.", field="point"
        )
    due = to_sample(turnaround)
    if due.not_now is not None:
        raise Refusal(due.not_now[1], field="taken_at", code=due.not_now[0])
    clean = due.clean
    assert clean is not None
    assert clean.finished_at is not None
    taken_at = check_when(taken_at or by.now, by=by, field="taken_at", not_before=clean.finished_at)
    if taken_at < clean.finished_at:
        raise Refusal(
            "That is before the clean ended. A sample counts only after it.",
            field="taken_at",
            code="before_clean_ended",
        )
    if rinse_end not in RinseEnd.values:
        raise Refusal("Say how the rinse ended; residue dims the light.", field="rinse_end")
    if stage not in SampleStage.values:
        raise Refusal("Say whether this was after the rinse or the sanitiser.", field="stage")
    if stage == SampleStage.AFTER_SANITISER and not due.sanitised:
        raise Refusal("This clean had no sanitiser step.", field="stage")
    if stage == SampleStage.AFTER_RINSE and rinse_end == RinseEnd.SANITISER_LEFT:
        raise Refusal(
            "After the last rinse no sanitiser is left in it. Say how the rinse ended.",
            field="rinse_end",
        )
    day = brewery_day(taken_at, Brewery.current())
    check = _check_meter(meter=meter, day=day)
    _check_stick(stick_lot=stick_lot, point=point, day=day)
    limits = limits_in_force(meter=meter, stick_lot=stick_lot, point=point, day=day)
    if limits is not None:
        # Known already, so that naming the set asks for nothing.
        limits.meter, limits.stick_type = meter, stick_lot.stick_type
    verdict = judge_rlu(
        rlu=rlu,
        alert_rlu=limits.alert_rlu if limits else None,
        action_rlu=limits.action_rlu if limits else None,
    )
    result = Result.objects.create(
        turnaround=turnaround,
        clean=clean,
        point=point,
        meter=meter,
        stick_lot=stick_lot,
        control_check=check,
        limits=limits,
        rlu=rlu,
        verdict=verdict,
        stage=stage,
        rinse_end=rinse_end,
        taken_at=taken_at,
        recorded_at=by.now,
        recorded_by=user,
        client_time=by.client_time,
        retest_of=clean.results.filter(point=point).order_by("-pk").first(),
        suspected_slip=suspected_slip,
        note=note.strip()[:200],
    )
    raise_revision(turnaround)
    return Written(
        result,
        {
            "point": point.name,
            "rlu": rlu,
            "verdict": verdict,
            "limits": str(limits) if limits else None,
            "meter": meter.name,
            "stick": str(stick_lot),
            "stage": stage,
            "rinse_end": rinse_end,
            "taken_at": taken_at,
            "retest_of": result.retest_of_id,
            "suspected_slip": suspected_slip,
            "note": result.note,
        },
        aggregate=turnaround,
    )


@verb("correct result")
def correct_result(
    *, by: Actor, result: Result, rlu: int, reason: str, password: str = ""
) -> Written[Result]:
    """Set a mistyped reading right by a new result that names it; both stay.

    One that was over the action limit is corrected only under a head brewer's signature, so
    that nothing is corrected into a pass.
    """
    user = require(by, "work_cellar")
    turnaround = lock_open_turnaround(result.turnaround)
    _check_rlu(rlu, field="rlu")
    if not reason.strip():
        raise Refusal("Say what was wrong with the first number.", field="reason")
    result = Result.objects.select_related("limits", "point", "meter").get(pk=result.pk)
    if Result.objects.filter(corrects=result).exists():
        raise Refusal("That reading was corrected already.", code="already_corrected")
    verdict = judge_rlu(
        rlu=rlu,
        alert_rlu=result.limits.alert_rlu if result.limits else None,
        action_rlu=result.limits.action_rlu if result.limits else None,
    )
    signature = None
    if result.verdict == Verdict.ACTION:
        if not may(user, "decide_release"):
            raise Refusal(
                "A reading over the action limit is corrected only by the head brewer.",
                field="rlu",
                code="not_allowed",
            )
        signature = sign(by=by, password=password, meaning="Corrected a mistyped reading")
    corrected = write_successor(
        result,
        by=by,
        reason=reason.strip()[:200],
        rlu=rlu,
        verdict=verdict,
        recorded_by=user,
        correction_signature=signature,
    )
    raise_revision(turnaround)
    return Written(
        corrected,
        {
            "point": result.point.name,
            "was_rlu": result.rlu,
            "is_rlu": rlu,
            "verdict": verdict,
            "reason": corrected.correction_reason,
        },
        aggregate=turnaround,
    )
