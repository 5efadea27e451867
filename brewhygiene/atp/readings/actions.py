"""Recording and correcting readings."""

from datetime import date, datetime

from brewhygiene.atp.limits.queries import limits_in_force
from brewhygiene.atp.meters.queries import control_check_of_day
from brewhygiene.atp.models.meters import AtpTestLot, ControlCheck, Meter
from brewhygiene.atp.models.readings import Result, RinseEnd, SampleStage, Verdict
from brewhygiene.atp.readings.due import to_sample
from brewhygiene.atp.rlu import check_rlu
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import may, require
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal
from brewhygiene.science.judging import judge_rlu
from brewhygiene.turnarounds.actions import check_when, lock_open_turnaround, raise_revision
from brewhygiene.turnarounds.models import Turnaround


def _check_stick(*, test_lot: AtpTestLot, point: SamplingPoint, day: date) -> None:
    if test_lot.atp_test.sample_kind != point.sample_kind:
        raise Refusal(
            f"{point.name} takes a {point.get_sample_kind_display()} stick; "
            f"{test_lot.atp_test.name} is for {test_lot.atp_test.sample_kind}.",
            field="test_lot",
            code="wrong_stick",
        )
    if test_lot.expires_on < day:
        raise Refusal(
            f"Lot {test_lot.lot} was good until {test_lot.expires_on:%d %B %Y}. "
            "Take a stick from a lot in date.",
            field="test_lot",
            code="stick_expired",
        )
    if not test_lot.active:
        raise Refusal(f"Lot {test_lot.lot} is out of use.", field="test_lot")


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


@action("record result")
def record_result(
    *,
    by: Actor,
    turnaround: Turnaround,
    point: SamplingPoint,
    meter: Meter,
    test_lot: AtpTestLot,
    rlu: int,
    rinse_end: str,
    stage: str,
    taken_at: datetime | None = None,
    suspected_slip: bool = False,
    note: str = "",
) -> Recorded[Result]:
    """Record a stick's reading, in RLU, and judge it by this meter's limits at once.

    ``test_lot`` with its stick type. A point read again after the same clean is a retest: both
    readings stand.
    """
    user = require(by, "work_cellar")
    turnaround = lock_open_turnaround(turnaround)
    check_rlu(rlu, field="rlu")
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
    _check_stick(test_lot=test_lot, point=point, day=day)
    limits = limits_in_force(meter=meter, test_lot=test_lot, point=point, day=day)
    if limits is not None:
        # Known already, so that naming the set asks for nothing.
        limits.meter, limits.atp_test = meter, test_lot.atp_test
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
        test_lot=test_lot,
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
    return Recorded(
        result,
        {
            "point": point.name,
            "rlu": rlu,
            "verdict": verdict,
            "limits": str(limits) if limits else None,
            "meter": meter.name,
            "stick": str(test_lot),
            "stage": stage,
            "rinse_end": rinse_end,
            "taken_at": taken_at,
            "retest_of": result.retest_of_id,
            "suspected_slip": suspected_slip,
            "note": result.note,
        },
        aggregate=turnaround,
    )


@action("correct result")
def correct_result(
    *, by: Actor, result: Result, rlu: int, reason: str, password: str = ""
) -> Recorded[Result]:
    """Set a mistyped reading right by a new result that names it; both stay.

    One that was over the action limit is corrected only under a head brewer's signature, so
    that nothing is corrected into a pass.
    """
    user = require(by, "work_cellar")
    turnaround = lock_open_turnaround(result.turnaround)
    check_rlu(rlu, field="rlu")
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
    corrected = Result.objects.create(
        turnaround=turnaround,
        clean=result.clean,
        point=result.point,
        meter=result.meter,
        test_lot=result.test_lot,
        control_check=result.control_check,
        limits=result.limits,
        rlu=rlu,
        verdict=verdict,
        stage=result.stage,
        rinse_end=result.rinse_end,
        taken_at=result.taken_at,
        recorded_at=by.now,
        recorded_by=user,
        client_time=by.client_time,
        retest_of=result.retest_of,
        corrects=result,
        correction_reason=reason.strip()[:200],
        correction_signature=signature,
    )
    raise_revision(turnaround)
    return Recorded(
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
