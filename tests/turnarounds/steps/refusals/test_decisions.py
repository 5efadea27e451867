"""What may be decided of a deviation, and who may act on a step at all."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed
from brewhygiene.turnarounds.actions import stop_clean
from brewhygiene.turnarounds.models import Clean, Deviation, StepRecord, Turnaround
from brewhygiene.turnarounds.readings.actions import correct_reading, record_reading
from brewhygiene.turnarounds.steps import actions
from tests.factories import NOW, Cellar, acting
from tests.turnarounds.steps.refusals.doing import (
    LATER,
    decide,
    end,
    read,
    refusal_of,
    started,
    step,
)

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
