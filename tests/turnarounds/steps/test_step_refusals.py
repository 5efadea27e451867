"""What the verbs of a step refuse, what they leave behind, and who may use them."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.regimes.models import Step, StepKind
from brewhygiene.turnarounds.actions import stop_clean
from brewhygiene.turnarounds.models import Clean, Deviation, StepReading, StepRecord, Turnaround
from brewhygiene.turnarounds.quantities import MeterReading, Titration
from brewhygiene.turnarounds.readings.actions import correct_reading, record_reading
from brewhygiene.turnarounds.steps import actions
from tests.factories import NOW, Cellar, acting, add_step, make_agent, make_version

LATER = NOW + timedelta(hours=1)
WINDOWS = {"concentration": (1.5, 3.0), "temperature_c": (60.0, 85.0), "time_min": (20.0, 45.0)}


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


@pytest.fixture
def clean(cellar: Cellar) -> Clean:
    """Running: caustic with three windows, a rinse to neutral, a drain."""
    version = make_version(steps=False)
    add_step(version, StepKind.CAUSTIC, agent=make_agent(), windows=WINDOWS)
    add_step(version, StepKind.RINSE, end_criterion="neutral")
    add_step(version, StepKind.DRAIN)
    cellar.version = version
    return cellar.started(cellar.emptied())


def step(clean: Clean, order: int) -> Step:
    return clean.version.steps.get(order=order)


def refusal_of(call: Callable[[], Any]) -> tuple[str | None, str]:
    """Field and code, having made sure that nothing was written."""
    before = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        call()
    assert Entry.objects.count() == before
    return refused.value.field, refused.value.code


def started(cellar: Cellar, clean: Clean, order: int = 1, **values: Any) -> StepRecord:
    return cellar.step_started(clean, step(clean, order), **values)


def read(cellar: Cellar, record: StepRecord, quantity: str, value: Any, **values: Any) -> Any:
    return record_reading(
        by=acting(cellar.hand), record=record, quantity=quantity, value=value, **values
    )


def end(cellar: Cellar, record: StepRecord, minutes: float = 30, **values: Any) -> StepRecord:
    now = NOW + timedelta(minutes=minutes)
    return actions.end_step(by=acting(cellar.hand, now=now), record=record, **values)


def decide(cellar: Cellar, deviation: Deviation, what: str, **values: Any) -> Deviation:
    return actions.dispose_deviation(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=31)),
        deviation=deviation,
        disposition=what,
        **values,
    )


# ---- starting ----


def test_a_step_starts_in_its_turn_and_once(cellar: Cellar, clean: Clean) -> None:
    def start(order: int) -> StepRecord:
        return actions.start_step(by=acting(cellar.hand), clean=clean, step=step(clean, order))

    assert refusal_of(lambda: start(2)) == (None, "out_of_order")
    assert refusal_of(lambda: start(1)) == ("codes", "unsafe")
    record = started(cellar, clean)
    assert (record.attempt, record.extends, record.started_by) == (1, None, cellar.hand)
    assert refusal_of(lambda: start(1)) == (None, "step_running")
    read(cellar, record, "concentration", 2, basis="ww")
    read(cellar, record, "temperature_c", 59)
    end(cellar, record)
    assert refusal_of(lambda: start(1)) == (None, "open_deviation")
    decide(cellar, Deviation.objects.get(), "accept", reason="Near enough")
    assert refusal_of(lambda: start(1)) == (None, "step_done")


def test_a_step_of_another_regime_is_not_of_this_clean(cellar: Cellar, clean: Clean) -> None:
    other = make_version().steps.get(order=1)
    by = acting(cellar.hand)
    for call in (
        lambda: actions.start_step(by=by, clean=clean, step=other),
        lambda: actions.acknowledge_safety(by=by, clean=clean, step=other, codes=[]),
        lambda: actions.leave_out_step(by=by, clean=clean, step=other, reason="None left"),
    ):
        assert refusal_of(call) == (None, "refused")


def test_what_is_acknowledged_is_kept_as_it_was_worded(cellar: Cellar, clean: Clean) -> None:
    started(cellar, clean)
    acknowledged = clean.acknowledgements.get()
    assert acknowledged.step == step(clean, 1)
    assert len(acknowledged.codes) == len(acknowledged.texts) > 1
    assert (acknowledged.user, acknowledged.acknowledged_at) == (cellar.hand, NOW)


# ---- leaving out ----


def test_a_step_is_left_out_for_a_reason_and_is_over_at_once(cellar: Cellar, clean: Clean) -> None:
    def leave(order: int, reason: str) -> StepRecord:
        return actions.leave_out_step(
            by=acting(cellar.hand), clean=clean, step=step(clean, order), reason=reason
        )

    assert refusal_of(lambda: leave(1, " ")) == ("reason", "refused")
    assert refusal_of(lambda: leave(2, "No water")) == (None, "out_of_order")
    record = leave(1, f" {'x' * 300} ")
    assert (record.left_out, record.attempt, record.note) == (True, 1, "x" * 300)
    assert (record.started_at, record.ended_at, record.ended_by) == (NOW, NOW, cellar.hand)
    deviation = Deviation.objects.get()
    assert (len(deviation.description), deviation.found_at) == (200, NOW)
    assert refusal_of(lambda: read(cellar, record, "temperature_c", 70)) == ("value", "refused")
    assert refusal_of(lambda: decide(cellar, deviation, "extend")) == ("disposition", "refused")
    decide(cellar, deviation, "repeat")
    again = leave(1, "Still none")
    assert again.attempt == 2


# ---- ending ----


def test_a_step_ends_once_with_its_end_said_where_it_has_one(cellar: Cellar, clean: Clean) -> None:
    record = started(cellar, clean)
    read(cellar, record, "concentration", 2, basis="ww")
    read(cellar, record, "temperature_c", 70)
    record = end(cellar, record, agent_lot=f" {'7' * 50} ", note=" Foamed ", end_criterion_met=True)
    assert (record.agent_lot, record.note) == ("7" * 40, "Foamed")
    # It has no end to be reached, so nothing is said of one.
    assert record.end_criterion_met is None
    assert refusal_of(lambda: end(cellar, record)) == (None, "step_ended")
    rinse = started(cellar, clean, 2)
    assert refusal_of(lambda: end(cellar, rinse)) == ("end_criterion_met", "refused")
    assert end(cellar, rinse, end_criterion_met=True).end_criterion_met is True
    assert Deviation.objects.count() == 0
    assert Entry.objects.filter(verb="end step").order_by("pk").first().values["minutes"] == 30


def test_an_end_not_reached_is_a_deviation_of_its_own(cellar: Cellar, clean: Clean) -> None:
    cellar.version = make_version(steps=False)
    add_step(cellar.version, StepKind.RINSE, end_criterion="neutral")
    other = cellar.started(cellar.emptied(vessel=second_vessel()))
    rinse = cellar.step_started(other, other.version.steps.get())
    end(cellar, rinse, end_criterion_met=False)
    deviation = Deviation.objects.get()
    assert (deviation.kind, deviation.record) == ("end_not_met", rinse)
    assert deviation.found_at == NOW + timedelta(minutes=30)


def second_vessel() -> Any:
    from tests.factories import make_vessel

    return make_vessel()


def test_typed_minutes_are_judged_as_typed_also_without_a_window(
    cellar: Cellar, clean: Clean
) -> None:
    record = started(cellar, clean)
    end(cellar, record, minutes=0)
    assert StepReading.objects.get().value == 0
    for deviation in Deviation.objects.all():
        decide(cellar, deviation, "accept", reason="Known")
    rinse = started(cellar, clean, 2)
    actions.end_step(
        by=acting(cellar.hand, now=LATER), record=rinse, minutes=7, end_criterion_met=True
    )
    reading = rinse.readings.get()
    assert (reading.quantity, reading.value, reading.verdict, reading.basis) == (
        "time_min",
        7,
        "no_window",
        "",
    )


# ---- readings ----


def test_only_what_is_read_by_hand_is_read_and_somewhere(cellar: Cellar, clean: Clean) -> None:
    record = started(cellar, clean)

    def refused(quantity: str, value: Any = 70, **values: Any) -> tuple[str | None, str]:
        return refusal_of(lambda: read(cellar, record, quantity, value, **values))

    assert refused("time_min") == ("quantity", "refused")
    assert refused("colour") == ("quantity", "refused")
    assert refused("temperature_c", stage="elsewhere") == ("stage", "refused")
    assert refused("temperature_c", None) == ("value", "refused")
    assert refused("concentration", 2) == ("basis", "refused")
    assert StepReading.objects.count() == 0
    reading = read(cellar, record, "temperature_c", 70, basis="ww")
    assert (reading.basis, reading.stage, reading.titration) == ("", "return", None)
    assert (reading.taken_at, reading.taken_by, reading.judged_value) == (NOW, cellar.hand, 70)


def test_a_titration_or_a_meter_gives_only_a_strength_and_only_of_an_agent(
    cellar: Cellar, clean: Clean
) -> None:
    titration = Titration(titrant_ml=5, titrant_normality=1, sample_ml=10)
    meter = MeterReading(conductivity_ms_cm=50, temperature_c=20)
    record = started(cellar, clean)
    for how in ({"titration": titration}, {"meter": meter}):
        assert read(cellar, record, "temperature_c", 70, **how).titration is None
    end(cellar, record)
    for deviation in Deviation.objects.all():
        decide(cellar, deviation, "accept", reason="Known")
    rinse = started(cellar, clean, 2)
    for how, field in (({"titration": titration}, "titrant_ml"), ({"meter": meter}, None)):
        refused = refusal_of(lambda how=how: read(cellar, rinse, "concentration", None, **how))
        assert refused == (field or "conductivity_ms_cm", "refused")


def test_an_attempt_that_another_followed_is_read_no_more(cellar: Cellar, clean: Clean) -> None:
    record = started(cellar, clean)
    end(cellar, record, 21)
    # Ended, and still the latest: what was read late may be written.
    assert read(cellar, record, "temperature_c", 70).verdict == "within"
    decide(cellar, Deviation.objects.first(), "repeat")
    again = started(cellar, clean, now=LATER)
    assert again.attempt == 2
    refused = refusal_of(lambda: read(cellar, record, "temperature_c", 71))
    assert refused == (None, "attempt_over")
    assert read(cellar, again, "temperature_c", 71).record == again


@pytest.mark.parametrize("value, kind", [(59, "below"), (86, "above"), (60, None), (85, None)])
def test_a_reading_outside_its_window_is_a_deviation_with_the_bound_that_it_missed(
    cellar: Cellar, clean: Clean, value: float, kind: str | None
) -> None:
    reading = read(cellar, started(cellar, clean), "temperature_c", value)
    found = [(d.kind, d.reading, d.quantity, d.found_at) for d in Deviation.objects.all()]
    assert found == ([] if kind is None else [(kind, reading, "temperature_c", NOW)])
    bound = {"below": "60 °C", "above": "85 °C"}.get(kind or "")
    assert all(d.description.endswith(f"{kind} {bound}") for d in Deviation.objects.all())


def test_a_quantity_without_a_window_is_read_and_not_judged(cellar: Cellar, clean: Clean) -> None:
    reading = read(cellar, started(cellar, clean), "flow_l_min", 120)
    assert (reading.verdict, reading.judged_value) == ("no_window", None)
    assert Deviation.objects.count() == 0


def test_a_reading_is_corrected_once_for_a_reason(cellar: Cellar, clean: Clean) -> None:
    record = started(cellar, clean)
    first = read(cellar, record, "temperature_c", 7)
    read(cellar, record, "temperature_c", 71, stage="start")

    def correct(reading: StepReading, reason: str = f" {'x' * 300} ") -> StepReading:
        return correct_reading(by=acting(cellar.hand), reading=reading, value=70, reason=reason)

    assert refusal_of(lambda: correct(first, "  ")) == ("reason", "refused")
    corrected = correct(first)
    assert (corrected.corrects, corrected.correction_reason) == (first, "x" * 200)
    assert (corrected.stage, corrected.quantity, corrected.verdict) == (
        "return",
        "temperature_c",
        "within",
    )
    assert refusal_of(lambda: correct(first)) == (None, "already_corrected")
    assert correct(corrected).corrects == corrected


# ---- deciding on deviations ----


def test_a_deviation_takes_one_of_four_decisions_two_of_them_with_a_reason(
    cellar: Cellar, clean: Clean
) -> None:
    read(cellar, started(cellar, clean), "temperature_c", 59)
    deviation = Deviation.objects.get()
    for what, field, code in (
        ("", "disposition", "refused"),
        ("read", "disposition", "refused"),
        ("accept", "reason", "no_reason"),
        ("stop", "reason", "no_reason"),
    ):
        refused = refusal_of(lambda what=what: decide(cellar, deviation, what, reason=" "))
        assert refused == (field, code)
    decided = decide(cellar, deviation, "accept", reason=" Near enough ")
    assert (decided.reason, decided.disposed_by) == ("Near enough", cellar.hand)
    assert decided.disposed_at == NOW + timedelta(minutes=31)
    assert refusal_of(lambda: decide(cellar, deviation, "repeat")) == (None, "already_disposed")
    clean.refresh_from_db()
    assert clean.running
    assert StepRecord.objects.get().ended_at is None


@pytest.mark.parametrize(
    "what, all_at_once", [("accept", False), ("repeat", True), ("extend", True), ("stop", True)]
)
def test_all_but_to_accept_decides_every_open_deviation_of_the_attempt(
    cellar: Cellar, clean: Clean, what: str, all_at_once: bool
) -> None:
    record = started(cellar, clean)
    read(cellar, record, "temperature_c", 59)
    read(cellar, record, "temperature_c", 86)
    decide(cellar, Deviation.objects.order_by("pk")[0], what, reason="Steam was off")
    found = list(Deviation.objects.order_by("pk").values_list("disposition", flat=True))
    assert found == ([what, what] if all_at_once else [what, ""])
    entry = Entry.objects.order_by("pk").last()
    assert len(entry.values["deviations"]) == (2 if all_at_once else 1)


def test_only_to_repeat_gives_up_a_step_that_runs_and_an_ended_one_keeps_its_end(
    cellar: Cellar, clean: Clean
) -> None:
    record = started(cellar, clean)
    read(cellar, record, "temperature_c", 59)
    decide(cellar, Deviation.objects.get(), "extend")
    record.refresh_from_db()
    assert record.ended_at is None
    read(cellar, record, "temperature_c", 58)
    decide(cellar, Deviation.objects.latest("pk"), "repeat")
    record.refresh_from_db()
    assert (record.ended_at, record.ended_by) == (NOW + timedelta(minutes=31), cellar.hand)
    again = started(cellar, clean, now=NOW + timedelta(minutes=1))
    end(cellar, again, 25)
    decide(cellar, Deviation.objects.latest("pk"), "repeat")
    again.refresh_from_db()
    assert again.ended_at == NOW + timedelta(minutes=25)


# ---- every verb ----


def calls(cellar: Cellar, clean: Clean) -> dict[str, Callable[[Any], Any]]:
    """Each verb as a call that would succeed now, on a caustic step that runs too cold."""
    record = started(cellar, clean)
    reading = read(cellar, record, "temperature_c", 59)
    deviation = Deviation.objects.get()
    first = step(clean, 1)
    return {
        "acknowledge safety checks": lambda by: actions.acknowledge_safety(
            by=by, clean=clean, step=first, codes=clean.acknowledgements.first().codes
        ),
        "end step": lambda by: actions.end_step(by=by, record=record),
        "dispose of deviation": lambda by: actions.dispose_deviation(
            by=by, deviation=deviation, disposition="accept", reason="Known"
        ),
        "record reading": lambda by: record_reading(
            by=by, record=record, quantity="temperature_c", value=70
        ),
        "correct reading": lambda by: correct_reading(
            by=by, reading=reading, value=69, reason="Mistyped"
        ),
    }


NAMES = [
    "acknowledge safety checks",
    "end step",
    "dispose of deviation",
    "record reading",
    "correct reading",
]


@pytest.mark.parametrize("name", NAMES)
def test_every_verb_of_a_step_is_cellar_work_on_a_clean_that_runs(
    cellar: Cellar, clean: Clean, name: str
) -> None:
    call = calls(cellar, clean)[name]
    with pytest.raises(NotAllowed):
        call(acting(cellar.owner, now=LATER))
    before = Turnaround.objects.get().revision
    call(acting(cellar.hand, now=LATER))
    entry = Entry.objects.order_by("pk").last()
    assert (entry.verb, entry.aggregate) == (name, f"turnaround:{clean.turnaround_id}")
    # To have read the cautions changes nothing that a decision rests on.
    raised = 0 if name == "acknowledge safety checks" else 1
    assert Turnaround.objects.get().revision == before + raised
    stop_clean(by=acting(cellar.hand, now=LATER), clean=clean, reason="Pump failed")
    assert refusal_of(lambda: call(acting(cellar.hand, now=LATER))) == (None, "clean_ended")


def test_to_start_and_to_leave_out_make_an_earlier_look_stale(cellar: Cellar, clean: Clean) -> None:
    before = Turnaround.objects.get().revision
    started(cellar, clean)
    assert Turnaround.objects.get().revision == before + 1
    stop_clean(by=acting(cellar.hand), clean=clean, reason="Pump failed")
    again = cellar.started(clean.turnaround)
    before = Turnaround.objects.get().revision
    actions.leave_out_step(
        by=acting(cellar.hand), clean=again, step=step(again, 1), reason="None left"
    )
    assert Turnaround.objects.get().revision == before + 1
