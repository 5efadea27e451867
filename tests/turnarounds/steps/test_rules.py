"""Rules of steps and cleans at their very edges: time, stopping, what sanitises."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Step, StepKind
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import (
    Clean,
    StepReading,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.progress import sanitising, to_tenth_below
from brewhygiene.turnarounds.readings.actions import record_reading
from brewhygiene.turnarounds.steps import actions as step_actions
from tests.factories import (
    NOW,
    Cellar,
    acting,
    add_step,
    make_agent,
    make_beer,
    make_peracetic,
    make_version,
    seen_well,
)

START = NOW + timedelta(minutes=1)


@pytest.mark.parametrize(
    "kind, leaves_it_sanitised",
    [
        (StepKind.VENT, False),
        (StepKind.PRE_RINSE, False),
        (StepKind.HAND_CLEAN, False),
        (StepKind.CAUSTIC, False),
        (StepKind.ACID, False),
        (StepKind.RINSE, False),
        (StepKind.SANITISER, True),
        (StepKind.HOT_WATER, True),
        (StepKind.DRAIN, False),
        (StepKind.SAMPLE, False),
    ],
)
def test_a_sanitiser_and_hot_water_leave_a_vessel_sanitised_and_nothing_else(
    kind: str, leaves_it_sanitised: bool
) -> None:
    assert sanitising(Step(kind=kind)) is leaves_it_sanitised


def test_the_kinds_of_step_above_are_all_there_are() -> None:
    assert len(StepKind) == 10


@pytest.mark.parametrize(
    "seconds, minutes",
    [
        (0, 0.0),
        (5.9, 0.0),
        (6, 0.1),
        (11.9, 0.1),
        (12, 0.2),
        (599.9, 9.9),
        (600, 10.0),
        (605.9, 10.0),
        (606, 10.1),
        (1199.9, 19.9),
    ],
)
def test_a_timer_is_never_rounded_up(seconds: float, minutes: float) -> None:
    assert to_tenth_below(seconds / 60) == minutes


def test_a_whole_tenth_is_not_lost_to_the_sum() -> None:
    """6 s are a tenth of a minute, whatever binary fractions make of it."""
    ran = [timedelta(seconds=6 * tenths) for tenths in range(6000)]
    shown = [to_tenth_below(one.total_seconds() / 60) for one in ran]
    assert shown == [tenths / 10 for tenths in range(6000)]


@given(minutes=st.floats(0, 5000), more=st.floats(0, 100))
def test_a_timer_shows_at_most_what_was_run_and_less_than_a_tenth_below(
    minutes: float, more: float
) -> None:
    shown = to_tenth_below(minutes)
    assert shown <= minutes + 1e-6
    assert minutes - shown < 0.1
    assert to_tenth_below(minutes + more) >= shown


# ---- with records ----


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


@pytest.fixture
def clean(cellar: Cellar) -> Clean:
    """Running, of a timed caustic step, a rinse, hot water and a last sanitiser."""
    version = make_version(steps=False)
    caustic = {"concentration": (1.5, 3.0), "time_min": (20, 45)}
    add_step(version, StepKind.CAUSTIC, agent=make_agent(), windows=caustic)
    add_step(version, StepKind.RINSE)
    cellar.version = version
    return cellar.started(cellar.emptied())


def step(clean: Clean, order: int) -> Step:
    return clean.version.steps.get(order=order)


def end(cellar: Cellar, record: StepRecord, after: timedelta, **values: object) -> StepRecord:
    now = record.started_at + after
    seen = seen_well(record.clean, record.step)
    values = {"observations": seen, **values}
    return step_actions.end_step(by=acting(cellar.hand, now=now), record=record, **values)


@pytest.mark.parametrize(
    "ran, minutes, verdict",
    [
        (timedelta(minutes=20) - timedelta(milliseconds=1), 19.9, "below"),
        (timedelta(minutes=20), 20.0, "within"),
        (timedelta(minutes=45, seconds=5, milliseconds=999), 45.0, "within"),
        (timedelta(minutes=45, seconds=6), 45.1, "above"),
    ],
)
def test_a_steps_time_is_judged_by_the_timer_to_the_tenth_below(
    cellar: Cellar, clean: Clean, ran: timedelta, minutes: float, verdict: str
) -> None:
    record = cellar.step_started(clean, step(clean, 1), now=START)
    end(cellar, record, ran)
    reading = StepReading.objects.get(quantity="time_min")
    assert (reading.value, reading.verdict, reading.stage) == (minutes, verdict, "end")
    kinds = set(Deviation.objects.filter(quantity="time_min").values_list("kind", flat=True))
    assert kinds == ({verdict} - {"within"})


def test_a_bound_of_nought_is_told_as_nought(cellar: Cellar) -> None:
    version = make_version(steps=False)
    add_step(version, StepKind.RINSE, windows={"temperature_c": (None, 0)})
    cellar.version = version
    clean = cellar.started(cellar.emptied())
    record = cellar.step_started(clean, step(clean, 1), now=START)
    record_reading(
        by=acting(cellar.hand, now=START), record=record, quantity="temperature_c", value=3
    )
    assert Deviation.objects.get().description.endswith("above 0 °C")


def test_a_step_without_a_time_window_has_no_reading_of_its_time(
    cellar: Cellar, clean: Clean
) -> None:
    first = cellar.step_started(clean, step(clean, 1), now=START)
    end(cellar, first, timedelta(minutes=30))
    for deviation in Deviation.objects.all():
        deviation_actions.dispose_deviation(
            by=acting(cellar.hand, now=START + timedelta(minutes=31)),
            deviation=deviation,
            disposition="accept",
            reason="Read at the tank",
        )
    later = START + timedelta(minutes=32)
    rinse = cellar.step_started(clean, step(clean, 2), now=later)
    end(cellar, rinse, timedelta(minutes=3))
    assert not StepReading.objects.filter(record=rinse, quantity="time_min").exists()


def test_stopping_a_clean_ends_the_step_that_runs(cellar: Cellar, clean: Clean) -> None:
    record = cellar.step_started(clean, step(clean, 1), now=START)
    stopped_at = START + timedelta(minutes=7)
    stopped = actions.stop_clean(
        by=acting(cellar.brewer, now=stopped_at), clean=clean, reason="  Pump failed "
    )
    record.refresh_from_db()
    assert (record.ended_at, record.ended_by) == (stopped_at, cellar.brewer)
    assert (stopped.stopped_at, stopped.stop_reason) == (stopped_at, "Pump failed")
    assert not StepRecord.objects.filter(ended_at__isnull=True).exists()


def test_stopping_a_clean_leaves_the_end_of_a_step_that_had_ended(
    cellar: Cellar, clean: Clean
) -> None:
    record = cellar.step_started(clean, step(clean, 1), now=START)
    end(cellar, record, timedelta(minutes=21))
    actions.stop_clean(
        by=acting(cellar.brewer, now=START + timedelta(hours=1)), clean=clean, reason="Pump failed"
    )
    record.refresh_from_db()
    assert (record.ended_at, record.ended_by) == (START + timedelta(minutes=21), cellar.hand)


def test_a_deviation_that_stops_the_clean_ends_the_step_that_runs(
    cellar: Cellar, clean: Clean
) -> None:
    record = cellar.step_started(clean, step(clean, 1), now=START)
    record_reading(
        by=acting(cellar.hand, now=START),
        record=record,
        quantity="concentration",
        value=0.5,
        basis="ww",
    )
    stopped_at = START + timedelta(minutes=7)
    deviation = deviation_actions.dispose_deviation(
        by=acting(cellar.brewer, now=stopped_at),
        deviation=Deviation.objects.get(),
        disposition="stop",
        reason="No caustic left",
    )
    record.refresh_from_db()
    clean.refresh_from_db()
    assert (record.ended_at, record.ended_by) == (stopped_at, cellar.brewer)
    assert (clean.stopped_at, clean.finished_at) == (stopped_at, None)
    assert clean.stop_reason == f"{deviation.description}. No caustic left"


def test_a_stopped_clean_takes_no_more_and_needs_a_reason(cellar: Cellar, clean: Clean) -> None:
    with pytest.raises(Refusal) as refusal:
        actions.stop_clean(by=acting(cellar.hand, now=START), clean=clean, reason="  ")
    assert refusal.value.field == "reason"
    actions.stop_clean(by=acting(cellar.hand, now=START), clean=clean, reason="Pump failed")
    with pytest.raises(Refusal) as refusal:
        actions.stop_clean(by=acting(cellar.hand, now=START), clean=clean, reason="Again")
    assert (str(refusal.value), refusal.value.code) == ("This clean was stopped.", "clean_ended")


def sanitised(cellar: Cellar, *kinds: str, left_out: int | None = None) -> Clean:
    """A finished clean of these steps, 10 minutes each from ``NOW``."""
    version = make_version(steps=False)
    for kind in kinds:
        add_step(version, kind, agent=make_peracetic() if kind == StepKind.SANITISER else None)
    cellar.version = version
    clean = cellar.started(cellar.emptied())
    now = NOW
    for one in version.steps.order_by("order"):
        if one.order == left_out:
            record = step_actions.leave_out_step(
                by=acting(cellar.hand, now=now), clean=clean, step=one, reason="No agent"
            )
            deviation_actions.dispose_deviation(
                by=acting(cellar.hand, now=now),
                deviation=record.deviations.get(),
                disposition="accept",
                reason="Rinsed instead",
            )
            continue
        end(cellar, cellar.step_started(clean, one, now=now), timedelta(minutes=10))
        now += timedelta(minutes=10)
    return actions.finish_clean(by=acting(cellar.hand, now=now + timedelta(minutes=5)), clean=clean)


@pytest.mark.parametrize(
    "kinds, minutes",
    [
        (["rinse", "sanitiser"], 20),
        (["rinse", "hot_water"], 20),
        (["sanitiser", "rinse"], 10),
        (["hot_water", "sanitiser", "rinse"], 20),
        (["sanitiser", "hot_water", "drain"], 20),
        (["rinse", "drain"], None),
    ],
    ids=str,
)
def test_the_sanitised_hold_begins_with_the_end_of_the_last_step_that_sanitises(
    cellar: Cellar, kinds: list[str], minutes: int | None
) -> None:
    clean = sanitised(cellar, *kinds)
    ends = None if minutes is None else NOW + timedelta(minutes=minutes)
    assert clean.sanitised_at == ends
    assert clean.finished_at == NOW + timedelta(minutes=10 * len(kinds) + 5)


def test_a_sanitiser_that_was_left_out_sanitised_nothing(cellar: Cellar) -> None:
    assert sanitised(cellar, "rinse", "sanitiser", left_out=2).sanitised_at is None


def test_a_weaker_regime_keeps_its_reason_and_an_equal_one_keeps_none(cellar: Cellar) -> None:
    """Sour beer asks for the strong clean, level 3."""
    sour = make_beer(sour_or_mixed=True)
    strong, ordinary = cellar.version, make_version(level=2)
    turnaround = cellar.emptied(beer=sour)
    by = acting(cellar.hand)
    for reason in ("", "   "):
        with pytest.raises(Refusal) as refusal:
            actions.start_clean(
                by=by, turnaround=turnaround, version=ordinary, weaker_reason=reason
            )
        assert (refusal.value.field, refusal.value.code) == ("weaker_reason", "weaker")
    weaker = actions.start_clean(
        by=by, turnaround=turnaround, version=ordinary, weaker_reason=" In a hurry "
    )
    assert (weaker.weaker_reason, weaker.proposed_regime, weaker.required_level) == (
        "In a hurry",
        strong.regime.name,
        3,
    )
    actions.stop_clean(by=by, clean=weaker, reason="Wrong regime")
    clean = actions.start_clean(
        by=by, turnaround=turnaround, version=strong, weaker_reason="Typed by mistake"
    )
    assert clean.weaker_reason == ""
