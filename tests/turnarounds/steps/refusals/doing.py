"""What a step is put through, in one call each."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Step
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import (
    Clean,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.readings.actions import record_reading
from brewhygiene.turnarounds.steps import actions
from tests.factories import NOW, Cellar, acting, seen_well

LATER = NOW + timedelta(hours=1)


WINDOWS = {"concentration": (1.5, 3.0), "temperature_c": (60.0, 85.0), "time_min": (20.0, 45.0)}


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
    seen = seen_well(record.clean, record.step)
    values = {"observations": seen, **values}
    return actions.end_step(by=acting(cellar.hand, now=now), record=record, **values)


def decide(cellar: Cellar, deviation: Deviation, what: str, **values: Any) -> Deviation:
    return deviation_actions.dispose_deviation(
        by=acting(cellar.hand, now=NOW + timedelta(minutes=31)),
        deviation=deviation,
        disposition=what,
        **values,
    )
