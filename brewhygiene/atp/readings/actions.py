"""Recording and correcting readings."""

from datetime import date, datetime

from brewhygiene.atp.limits.days import day_words
from brewhygiene.atp.limits.queries import limits_in_force
from brewhygiene.atp.meters.queries import control_check_of_day
from brewhygiene.atp.models.meters import TEST_KINDS, AtpTestLot, ControlCheck, Meter
from brewhygiene.atp.models.readings import Result, RinseEnd, Verdict
from brewhygiene.atp.readings.due import missed_at, required_unsampled, to_sample
from brewhygiene.atp.rlu import check_rlu
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import SampleKind, SamplingPoint
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import may, require
from brewhygiene.people.signatures import sign
from brewhygiene.quantities.sources import ValueSource, source_of_correction
from brewhygiene.quantities.style import told
from brewhygiene.refusals import Refusal
from brewhygiene.science.judging import judge_rlu
from brewhygiene.turnarounds.actions import check_when, lock_open_turnaround, raise_revision
from brewhygiene.turnarounds.models import StepRecord, Turnaround
from brewhygiene.turnarounds.models.deviations import Disposition

NO_RINSE_END = "Choose how the rinse ended. Residue makes readings too low."


def _check_lot(*, test_lot: AtpTestLot, point: SamplingPoint, day: date) -> None:
    test = test_lot.atp_test
    if test.sample_kind != point.sample_kind:
        needed = TEST_KINDS[SampleKind(point.sample_kind)]
        raise Refusal(
            f"{point.name} takes a {needed}. {test.name} is a {test.kind}. Choose a lot of "
            f"{needed}s.",
            field="test_lot",
            code="wrong_atp_test",
        )
    if test_lot.expires_on < day:
        with told():
            raise Refusal(
                f"Lot {test_lot.lot} is out of date. Its last day was "
                f"{day_words(test_lot.expires_on)}. Choose a lot in date.",
                field="test_lot",
                code="lot_out_of_date",
            )
    if not test_lot.active:
        raise Refusal(f"Lot {test_lot.lot} is retired. Choose another lot.", field="test_lot")


def _check_meter(*, meter: Meter, day: date) -> ControlCheck:
    if not meter.active:
        raise Refusal(f"{meter.name} is retired. Choose another meter.", field="meter")
    check = control_check_of_day(meter=meter, day=day)
    if check is None:
        with told():
            raise Refusal(
                f"{meter.name} has no control check on {day_words(day)}. Record its control check "
                "first.",
                field="meter",
                code="no_control_check",
            )
    if not check.passed:
        with told():
            raise Refusal(
                f"{meter.name} failed its control check on {day_words(day)}. Choose another "
                "meter, or "
                "repeat the check with a fresh control.",
                field="meter",
                code="control_check_failed",
            )
    return check


def _settle_missed(*, by: Actor, missed: StepRecord | None) -> list[str]:
    """Settle that a sample step ended without its samples, with the last of them. 7 queries then.

    The deviations that are settled, in words.
    """
    if missed is None or required_unsampled(missed):
        return []
    settled = list(missed_at(missed))
    for deviation in settled:
        deviation.decide(Disposition.SAMPLED, reason="", at=by.now, by=by.person)
    return [deviation.description for deviation in settled]


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
    taken_at: datetime | None = None,
    suspected_slip: bool = False,
    note: str = "",
) -> Recorded[Result]:
    """Record a reading, in RLU, and judge it by this meter's limits of its moment at once.

    The moment follows from the steps of the clean that had ended. ``test_lot`` with its ATP
    test. A point read again after the same clean is a retest: both readings are kept. The last
    sample that an ended sample step still owes settles its deviation.
    """
    user = require(by, "work_cellar")
    turnaround = lock_open_turnaround(turnaround)
    check_rlu(rlu, field="rlu")
    if point.vessel_id != turnaround.vessel_id or not point.active:
        raise Refusal(
            f"{point.name} is not in use on {turnaround.vessel.name}. Choose one of its "
            "sampling points.",
            field="point",
        )
    due = to_sample(turnaround)
    if due.not_now is not None:
        raise Refusal(due.not_now[1], field="taken_at", code=due.not_now[0])
    clean = due.clean
    assert clean is not None
    assert due.since is not None
    taken_at = check_when(taken_at or by.now, by=by, field="taken_at", not_before=due.since)
    if taken_at < due.since:
        raise Refusal(
            "Enter a time after the clean ended. Earlier samples do not count."
            if due.step is None
            else "Enter a time after the sample step began. Earlier samples do not count.",
            field="taken_at",
            code="before_clean_ended",
        )
    if rinse_end not in RinseEnd.values:
        raise Refusal(NO_RINSE_END, field="rinse_end")
    if due.moment != SamplingMoment.IN_SANITISER and rinse_end == RinseEnd.SANITISER_LEFT:
        raise Refusal(
            "By the steps of this clean no sanitiser is left now. Choose how the rinse ended.",
            field="rinse_end",
        )
    day = brewery_day(taken_at, Brewery.current())
    check = _check_meter(meter=meter, day=day)
    _check_lot(test_lot=test_lot, point=point, day=day)
    limits = limits_in_force(
        meter=meter, test_lot=test_lot, point=point, moment=due.moment, day=day
    )
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
        source=ValueSource.READ,
        verdict=verdict,
        moment=due.moment,
        rinse_end=rinse_end,
        taken_at=taken_at,
        recorded_at=by.now,
        recorded_by=user,
        client_time=by.client_time,
        retest_of=clean.results.filter(point=point).order_by("-pk").first(),
        suspected_slip=suspected_slip,
        note=note.strip()[:200],
    )
    settles = _settle_missed(by=by, missed=due.missed)
    raise_revision(turnaround)
    return Recorded(
        result,
        {
            "point": point.name,
            "rlu": rlu,
            "source": result.source,
            "verdict": verdict,
            "limits": str(limits) if limits else None,
            "meter": meter.name,
            "test_lot": str(test_lot),
            "moment": due.moment,
            "rinse_end": rinse_end,
            "taken_at": taken_at,
            "retest_of": result.retest_of_id,
            "suspected_slip": suspected_slip,
            "note": result.note,
            **({"settles": settles} if settles else {}),
        },
        aggregate=turnaround,
    )


@action("correct result")
def correct_result(
    *, by: Actor, result: Result, rlu: int, reason: str, password: str = ""
) -> Recorded[Result]:
    """Correct a mistyped reading by a new one that names it; both are kept.

    A reading over the action limit is corrected only under a head brewer's signature.
    """
    user = require(by, "work_cellar")
    turnaround = lock_open_turnaround(result.turnaround)
    check_rlu(rlu, field="rlu")
    if not reason.strip():
        raise Refusal("Enter what was wrong with the first number.", field="reason")
    result = Result.objects.select_related("limits", "point", "meter").get(pk=result.pk)
    if Result.objects.filter(corrects=result).exists():
        raise Refusal(
            "This reading is already corrected. Correct the newer one instead.",
            code="already_corrected",
        )
    verdict = judge_rlu(
        rlu=rlu,
        alert_rlu=result.limits.alert_rlu if result.limits else None,
        action_rlu=result.limits.action_rlu if result.limits else None,
    )
    signature = None
    if result.verdict == Verdict.ACTION:
        if not may(user, "decide_release"):
            raise Refusal(
                "Only the head brewer can correct a reading over the action limit. Ask the head "
                "brewer to correct it.",
                field="rlu",
                code="not_allowed",
            )
        signature = sign(by=by, password=password, meaning="Corrected a mistyped reading")
    corrected = result.successor(
        correction_reason=reason.strip()[:200],
        rlu=rlu,
        source=source_of_correction(result.source),
        verdict=verdict,
        recorded_at=by.now,
        recorded_by=user,
        client_time=by.client_time,
        correction_signature=signature,
    )
    corrected.save()
    raise_revision(turnaround)
    return Recorded(
        corrected,
        {
            "point": result.point.name,
            "was_rlu": result.rlu,
            "is_rlu": rlu,
            "source": corrected.source,
            "verdict": verdict,
            "reason": corrected.correction_reason,
        },
        aggregate=turnaround,
    )
