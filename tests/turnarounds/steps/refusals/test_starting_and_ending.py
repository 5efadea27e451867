"""What a step refuses when it is started, left out or ended."""

from datetime import timedelta
from typing import Any

from brewhygiene.ledger.models import Entry
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.models import Clean, Deviation, StepReading, StepRecord
from brewhygiene.turnarounds.steps import actions
from tests.factories import NOW, Cellar, acting, add_step, make_version
from tests.turnarounds.steps.refusals.doing import (
    LATER,
    decide,
    end,
    read,
    refusal_of,
    started,
    step,
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
