"""Readings, control checks and limits."""

from datetime import date, timedelta

import pytest

from brewhygiene.atp.limits import actions as limit_actions
from brewhygiene.atp.meters import actions as meter_actions
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.readings import actions as reading_actions
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    make_atp_test,
    make_limits,
    make_meter,
    make_point,
    make_test_lot,
    make_vessel,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


@pytest.mark.parametrize(
    ("rlu", "verdict"),
    [(0, "clear"), (10, "clear"), (11, "alert"), (30, "alert"), (31, "action")],
)
def test_result_is_judged_at_its_limits(cellar: Cellar, rlu: int, verdict: str) -> None:
    assert cellar.sampled(cellar.cleaned(), rlu=rlu).verdict == verdict


def test_result_zero_is_a_real_result(cellar: Cellar) -> None:
    result = cellar.sampled(cellar.cleaned(), rlu=0)
    assert (result.rlu, result.verdict) == (0, "clear")


def test_result_keeps_the_limits_that_judged_it(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    result = cellar.sampled(turnaround, rlu=20)
    make_limits(
        by=cellar.brewer,
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        alert_rlu=1,
        action_rlu=5,
        now=NOW + timedelta(hours=1),
    )
    result.refresh_from_db()
    assert (result.verdict, result.limits) == ("alert", cellar.limits)


def test_limits_of_one_meter_never_judge_another(cellar: Cellar) -> None:
    other = make_meter()
    turnaround = cellar.cleaned()
    cellar.checked(meter=other)
    result = cellar.sampled(turnaround, rlu=5, meter=other)
    assert (result.verdict, result.limits) == ("unjudged", None)


def test_limits_of_one_atp_test_never_judge_another(cellar: Cellar) -> None:
    lot = make_test_lot(make_atp_test())
    result = cellar.sampled(cellar.cleaned(), rlu=5, test_lot=lot)
    assert result.verdict == "unjudged"


def test_limits_proposed_but_not_approved_judge_nothing(cellar: Cellar) -> None:
    meter = make_meter()
    limit_actions.propose_limits(
        by=acting(cellar.brewer),
        meter=meter,
        atp_test=cellar.atp_test,
        moment="in_sanitiser",
        alert_rlu=10,
        action_rlu=30,
        source="maker",
        source_note="Leaflet",
        review_on=date(2027, 3, 1),
    )
    turnaround = cellar.cleaned()
    cellar.checked(meter=meter)
    assert cellar.sampled(turnaround, rlu=5, meter=meter).verdict == "unjudged"


def test_a_points_own_limits_go_before_those_for_all_points(cellar: Cellar) -> None:
    make_limits(
        by=cellar.brewer,
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        alert_rlu=2,
        action_rlu=4,
        point=cellar.point,
    )
    assert cellar.sampled(cellar.cleaned(), rlu=5).verdict == "action"


def test_limits_newly_approved_retire_those_before(cellar: Cellar) -> None:
    newer = make_limits(by=cellar.brewer, meter=cellar.meter, atp_test=cellar.atp_test, now=NOW)
    cellar.limits.refresh_from_db()
    assert (cellar.limits.retired_at, newer.retired_at) == (NOW, None)


def test_withdrawn_limits_judge_nothing_more(cellar: Cellar) -> None:
    limit_actions.retire_limits(by=acting(cellar.brewer), limits=cellar.limits, password=PASSWORD)
    assert cellar.sampled(cellar.cleaned(), rlu=5).verdict == "unjudged"


def test_limits_are_not_approved_by_the_cellar_role(cellar: Cellar) -> None:
    with pytest.raises(NotAllowed):
        limit_actions.approve_limits(
            by=acting(cellar.hand), limits=cellar.limits, password=PASSWORD
        )


def test_limits_with_alert_above_action_are_refused(cellar: Cellar) -> None:
    with pytest.raises(Refusal) as refused:
        make_limits(
            by=cellar.brewer,
            meter=cellar.meter,
            atp_test=cellar.atp_test,
            alert_rlu=31,
            action_rlu=30,
        )
    assert refused.value.field == "alert_rlu"
    assert LimitSet.objects.count() == 1


def refused_result(cellar: Cellar, turnaround, **values) -> Refusal:
    """The refusal of a result, having made sure that it left nothing behind."""
    before = (Result.objects.count(), Entry.objects.count())
    with pytest.raises(Refusal) as refused:
        cellar.sampled(turnaround, **values)
    assert (Result.objects.count(), Entry.objects.count()) == before
    return refused.value


def test_result_before_any_clean_is_refused(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    cellar.checked()
    assert refused_result(cellar, turnaround, now=NOW).code == "not_cleaned"


def test_result_during_a_clean_is_refused(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    cellar.started(turnaround)
    cellar.checked()
    refusal = refused_result(cellar, turnaround)
    assert (refusal.code, refusal.field) == ("clean_running", "taken_at")


def test_result_taken_before_the_clean_ended_is_refused(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    refusal = refused_result(cellar, turnaround, taken_at=NOW + timedelta(minutes=5))
    assert (refusal.code, refusal.field) == ("before_clean_ended", "taken_at")


def test_result_in_the_future_is_refused(cellar: Cellar) -> None:
    refusal = refused_result(cellar, cellar.cleaned(), taken_at=NOW + timedelta(days=1))
    assert refusal.field == "taken_at"


def test_result_by_a_meter_unchecked_today_is_refused(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    refusal = refused_result(cellar, turnaround, meter=make_meter())
    assert (refusal.code, refusal.field) == ("no_control_check", "meter")


def test_result_by_a_meter_checked_only_yesterday_is_refused(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    cellar.run(cellar.started(turnaround))
    cellar.checked(now=NOW - timedelta(days=1))
    assert refused_result(cellar, turnaround).code == "no_control_check"


def test_control_check_counts_for_the_brewerys_own_day() -> None:
    # 09:00 UTC is 22:00 the same day in Auckland (UTC+13): 3 h later is another day there.
    cellar = Cellar(time_zone="Pacific/Auckland")
    turnaround = cellar.cleaned()
    refusal = refused_result(cellar, turnaround, now=NOW + timedelta(hours=3))
    assert refusal.code == "no_control_check"


def test_result_by_a_meter_that_failed_its_check_is_refused(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    check = meter_actions.record_control_check(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=25)),
        meter=cellar.meter,
        blank_rlu=6,
        positive_rlu=200,
    )
    assert check.passed is False
    assert refused_result(cellar, turnaround).code == "control_check_failed"


@pytest.mark.parametrize(
    ("blank", "positive", "passed"),
    [(5, 100, True), (5, 400, True), (6, 100, False), (0, 99, False), (0, 401, False)],
)
def test_control_check_passes_within_the_meters_ranges(
    cellar: Cellar, blank: int, positive: int, passed: bool
) -> None:
    check = meter_actions.record_control_check(
        by=acting(cellar.hand), meter=cellar.meter, blank_rlu=blank, positive_rlu=positive
    )
    assert check.passed is passed


def test_result_with_a_swab_past_its_date_is_refused(cellar: Cellar) -> None:
    lot = make_test_lot(cellar.atp_test, expires_on=date(2026, 3, 9))
    refusal = refused_result(cellar, cellar.cleaned(), test_lot=lot)
    assert (refusal.code, refusal.field) == ("lot_out_of_date", "test_lot")


def test_a_swab_may_be_used_on_its_last_day(cellar: Cellar) -> None:
    lot = make_test_lot(cellar.atp_test, expires_on=date(2026, 3, 10))
    assert cellar.sampled(cellar.cleaned(), test_lot=lot).verdict == "clear"


def test_result_with_the_wrong_kind_of_swab_is_refused(cellar: Cellar) -> None:
    lot = make_test_lot(make_atp_test(sample_kind="surface"))
    refusal = refused_result(cellar, cellar.cleaned(), test_lot=lot)
    assert (refusal.code, refusal.field) == ("wrong_atp_test", "test_lot")


def test_result_at_another_vessels_point_is_refused(cellar: Cellar) -> None:
    elsewhere = make_point(make_vessel(points=0))
    assert refused_result(cellar, cellar.cleaned(), point=elsewhere).field == "point"


@pytest.mark.parametrize("rlu", [-1, 10_000_000])
def test_result_that_no_meter_shows_is_refused(cellar: Cellar, rlu: int) -> None:
    assert refused_result(cellar, cellar.cleaned(), rlu=rlu).field == "rlu"


def test_result_by_the_owner_is_refused(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    with pytest.raises(NotAllowed):
        cellar.sampled(turnaround, by=cellar.owner)


def test_result_sent_twice_is_written_once(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    values = {
        "by": acting(cellar.hand, now=NOW + timedelta(minutes=30), key="one-tap"),
        "turnaround": turnaround,
        "point": cellar.point,
        "meter": cellar.meter,
        "test_lot": cellar.lot,
        "rlu": 3,
        "rinse_end": "tap",
    }
    assert reading_actions.record_result(**values) == reading_actions.record_result(**values)
    assert Result.objects.count() == 1


def test_correction_keeps_both_readings(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    mistyped = cellar.sampled(turnaround, rlu=20)
    corrected = reading_actions.correct_result(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=31)),
        result=mistyped,
        rlu=2,
        reason="Typed a nought too many",
    )
    mistyped.refresh_from_db()
    assert (mistyped.rlu, corrected.rlu, corrected.corrects) == (20, 2, mistyped)


def test_correction_of_an_action_result_takes_the_head_brewers_signature(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    over = cellar.sampled(turnaround, rlu=200)
    with pytest.raises(Refusal) as refused:
        reading_actions.correct_result(
            by=acting(cellar.hand), result=over, rlu=2, reason="Mistyped"
        )
    assert refused.value.code == "not_allowed"
    with pytest.raises(Refusal) as unsigned:
        reading_actions.correct_result(
            by=acting(cellar.brewer), result=over, rlu=2, reason="Mistyped"
        )
    assert unsigned.value.field == "password"
    corrected = reading_actions.correct_result(
        by=acting(cellar.brewer), result=over, rlu=2, reason="Mistyped", password=PASSWORD
    )
    assert corrected.correction_signature.printed_name == "Mara Oduya"


def test_correction_of_a_corrected_reading_is_refused(cellar: Cellar) -> None:
    mistyped = cellar.sampled(cellar.cleaned(), rlu=20)
    for_one = {"by": acting(cellar.hand), "result": mistyped, "reason": "Mistyped"}
    reading_actions.correct_result(rlu=2, **for_one)
    with pytest.raises(Refusal) as refused:
        reading_actions.correct_result(rlu=3, **for_one)
    assert refused.value.code == "already_corrected"


def test_limits_approved_later_judge_the_readings_that_waited(cellar: Cellar) -> None:
    meter = make_meter()
    turnaround = cellar.cleaned()
    cellar.checked(meter=meter)
    waited = cellar.sampled(turnaround, rlu=31, meter=meter)
    limits = make_limits(
        by=cellar.brewer,
        meter=meter,
        atp_test=cellar.atp_test,
        now=NOW + timedelta(minutes=35),
    )
    waited.refresh_from_db()
    judged = waited.corrected_by
    assert (waited.verdict, judged.verdict, judged.rlu, judged.limits) == (
        "unjudged",
        "action",
        31,
        limits,
    )


def test_limits_approved_later_leave_closed_turnarounds_alone(cellar: Cellar) -> None:
    meter = make_meter()
    turnaround = cellar.released()
    cellar.checked(now=NOW + timedelta(minutes=41), meter=meter)
    cellar.sampled(turnaround, rlu=5, meter=meter, now=NOW + timedelta(minutes=42))
    cellar.filled(turnaround)
    make_limits(
        by=cellar.brewer, meter=meter, atp_test=cellar.atp_test, now=NOW + timedelta(hours=2)
    )
    assert Result.objects.filter(corrects__isnull=False).count() == 0


def test_limits_for_another_swab_leave_a_waiting_reading_unjudged(cellar: Cellar) -> None:
    meter = make_meter()
    turnaround = cellar.cleaned()
    cellar.checked(meter=meter)
    cellar.sampled(turnaround, rlu=5, meter=meter)
    make_limits(by=cellar.brewer, meter=meter, atp_test=make_atp_test(), now=NOW)
    assert Result.objects.get().verdict == "unjudged"
