"""What a reading refuses, what it is judged by, and what its correction takes over."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.readings.actions import correct_result
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.actions import stop_clean
from brewhygiene.turnarounds.models import Turnaround
from tests.factories import (
    NOW,
    Cellar,
    acting,
    add_step,
    make_meter,
    make_point,
    make_test_lot,
    make_version,
)

# Cleaned 20 minutes after NOW; sampled 30 minutes after it where nothing else is said.
CLEANED = NOW + timedelta(minutes=20)


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


def refusal_of(call: Callable[[], Any]) -> tuple[str | None, str]:
    """Field and code, having made sure that nothing was written."""
    before = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        call()
    assert Entry.objects.count() == before
    return refused.value.field, refused.value.code


@pytest.mark.parametrize(
    "values, field",
    [
        ({"rinse_end": "somehow"}, "rinse_end"),
        ({"rinse_end": ""}, "rinse_end"),
        ({"rlu": -1}, "rlu"),
        ({"rlu": 10_000_000}, "rlu"),
        ({"taken_at": NOW - timedelta(days=61)}, "taken_at"),
    ],
    ids=str,
)
def test_a_reading_is_refused_beside_what_cannot_be(
    cellar: Cellar, values: dict[str, Any], field: str
) -> None:
    turnaround = cellar.cleaned()
    assert refusal_of(lambda: cellar.sampled(turnaround, **values)) == (field, "refused")


@pytest.mark.parametrize("rinse_end", ["tap", "neutral", "not_checked", "sanitiser_left"])
def test_a_sample_after_the_sanitiser_step_was_taken_in_the_sanitiser(
    cellar: Cellar, rinse_end: str
) -> None:
    result = cellar.sampled(cellar.cleaned(), rinse_end=rinse_end)
    assert (result.moment, result.stage) == ("in_sanitiser", "")
    assert (result.rinse_end, result.suspected_slip) == (rinse_end, False)


def test_a_clean_without_a_sanitiser_leaves_none_to_be_sampled(cellar: Cellar) -> None:
    cellar.version = make_version(steps=False)
    add_step(cellar.version, StepKind.RINSE, end_criterion="neutral")
    turnaround = cellar.cleaned()
    left = {"rinse_end": "sanitiser_left"}
    assert refusal_of(lambda: cellar.sampled(turnaround, **left)) == ("rinse_end", "refused")
    assert cellar.sampled(turnaround, rinse_end="neutral").moment == "rinse_proved"


def test_the_highest_number_that_meters_show_is_a_reading(cellar: Cellar) -> None:
    assert cellar.sampled(cellar.cleaned(), rlu=9_999_999).verdict == "action"


def test_a_stopped_clean_takes_no_sample(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    stop_clean(by=acting(cellar.hand), clean=cellar.started(turnaround), reason="Pump failed")
    assert refusal_of(lambda: cellar.sampled(turnaround)) == ("taken_at", "clean_stopped")
    with pytest.raises(Refusal) as refused:
        cellar.sampled(turnaround)
    # Said in a sentence, not by its code.
    assert refused.value.message.endswith(".")


def test_a_sample_may_be_of_the_minute_in_which_the_clean_ended_but_not_before(
    cellar: Cellar,
) -> None:
    turnaround = cellar.emptied()
    cellar.run(cellar.started(turnaround), now=NOW + timedelta(seconds=30))
    cellar.checked()
    early = CLEANED - timedelta(microseconds=1)
    refused = refusal_of(lambda: cellar.sampled(turnaround, taken_at=early))
    assert refused == ("taken_at", "before_clean_ended")
    ended = CLEANED + timedelta(seconds=30)
    assert cellar.sampled(turnaround, taken_at=CLEANED).taken_at == ended
    assert cellar.sampled(turnaround, taken_at=ended).taken_at == ended
    assert cellar.sampled(turnaround).taken_at == NOW + timedelta(minutes=30)


def test_what_is_out_of_use_reads_nothing(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    point = make_point(cellar.vessel, active=False)
    assert refusal_of(lambda: cellar.sampled(turnaround, point=point)) == ("point", "refused")
    lot = make_test_lot(cellar.atp_test, active=False)
    assert refusal_of(lambda: cellar.sampled(turnaround, test_lot=lot)) == ("test_lot", "refused")
    meter = make_meter(active=False)
    assert refusal_of(lambda: cellar.sampled(turnaround, meter=meter)) == ("meter", "refused")


def test_a_retest_names_the_reading_before_it_at_the_same_point(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    other = make_point(cellar.vessel)
    first, elsewhere = cellar.sampled(turnaround), cellar.sampled(turnaround, point=other)
    second = cellar.sampled(turnaround)
    third = cellar.sampled(turnaround)
    assert [r.retest_of for r in (first, elsewhere, second, third)] == [None, None, first, second]


def test_a_reading_keeps_two_hundred_letters_of_its_note(cellar: Cellar) -> None:
    assert cellar.sampled(cellar.cleaned(), note=f" {'x' * 300} ").note == "x" * 200


def test_a_reading_tells_the_ledger_by_what_it_was_judged(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    cellar.sampled(turnaround)
    entry = Entry.objects.order_by("pk").last()
    assert (entry.values["limits"], entry.values["verdict"]) == (str(cellar.limits), "clear")
    meter = make_meter()
    cellar.checked(meter=meter)
    cellar.sampled(turnaround, meter=meter)
    entry = Entry.objects.order_by("pk").last()
    assert (entry.values["limits"], entry.values["verdict"]) == (None, "unjudged")


def test_a_reading_and_its_correction_make_an_earlier_look_stale(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    before = Turnaround.objects.get().revision
    result = cellar.sampled(turnaround)
    assert Turnaround.objects.get().revision == before + 1
    correct_result(by=acting(cellar.hand), result=result, rlu=3, reason="Mistyped")
    assert Turnaround.objects.get().revision == before + 2


# ---- corrections ----


def correct(cellar: Cellar, result: Result, rlu: int = 3, **values: Any) -> Result:
    user = values.pop("user", cellar.hand)
    return correct_result(
        by=acting(user, now=NOW + timedelta(minutes=35)),
        result=result,
        rlu=rlu,
        **{"reason": "Mistyped", **values},
    )


def test_a_correction_needs_a_number_that_can_be_and_a_reason(cellar: Cellar) -> None:
    result = cellar.sampled(cellar.cleaned())
    assert refusal_of(lambda: correct(cellar, result, -1)) == ("rlu", "refused")
    refused = refusal_of(lambda: correct(cellar, result, reason="  "))
    assert refused == ("reason", "refused")
    with pytest.raises(NotAllowed):
        correct(cellar, result, user=cellar.owner)
    corrected = correct(cellar, result, reason=f" {'x' * 300} ")
    assert corrected.correction_reason == "x" * 200


@pytest.mark.parametrize(
    "rlu, verdict", [(10, "clear"), (11, "alert"), (30, "alert"), (31, "action")]
)
def test_a_correction_is_judged_by_the_limits_of_the_first_reading(
    cellar: Cellar, rlu: int, verdict: str
) -> None:
    result = cellar.sampled(cellar.cleaned(), rlu=30)
    corrected = correct(cellar, result, rlu)
    assert (corrected.verdict, corrected.limits) == (verdict, cellar.limits)
    assert corrected.correction_signature is None


def test_a_correction_of_an_unjudged_reading_is_unjudged(cellar: Cellar) -> None:
    turnaround, meter = cellar.cleaned(), make_meter()
    cellar.checked(meter=meter)
    corrected = correct(cellar, cellar.sampled(turnaround, rlu=500, meter=meter), 400)
    assert (corrected.verdict, corrected.limits) == ("unjudged", None)


def test_a_reading_of_a_closed_turnaround_is_not_corrected(cellar: Cellar) -> None:
    turnaround = cellar.released()
    cellar.filled(turnaround)
    result = Result.objects.get()
    assert refusal_of(lambda: correct(cellar, result)) == (None, "closed")


def test_a_swab_is_good_up_to_its_last_day_and_only_at_its_kind_of_point(cellar: Cellar) -> None:
    turnaround = cellar.cleaned()
    late = make_test_lot(cellar.atp_test, expires_on=date(2026, 3, 9))
    refused = refusal_of(lambda: cellar.sampled(turnaround, test_lot=late))
    assert refused == ("test_lot", "lot_out_of_date")
    last = make_test_lot(cellar.atp_test, expires_on=date(2026, 3, 10))
    assert cellar.sampled(turnaround, test_lot=last).test_lot == last
    wall = make_point(cellar.vessel, sample_kind="surface")
    refused = refusal_of(lambda: cellar.sampled(turnaround, point=wall))
    assert refused == ("test_lot", "wrong_atp_test")
