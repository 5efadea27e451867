"""A timer that was forgotten: over its maximum, or far over what was aimed for."""

from datetime import timedelta

import pytest

from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.steps import actions
from brewhygiene.turnarounds.steps.times.minutes import forgotten_words
from tests import clock
from tests.factories import acting, add_step, make_version, seen_well
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("window", "target", "ran_min", "words"),
    [
        ((20, 45), 30, 45, ""),
        ((20, 45), 30, 45.1, "Timer ran 45.1 min: above 45 min"),
        # Twice what was aimed for, and half an hour over it.
        ((20, None), None, 49.9, ""),
        ((20, None), None, 50, "Timer ran 50 min, 20 min aimed for: a forgotten timer"),
        ((20, None), 40, 79.9, ""),
        ((20, None), 40, 80, "Timer ran 80 min, 40 min aimed for: a forgotten timer"),
        (None, None, 900, ""),
    ],
)
def test_when_a_timer_was_forgotten(
    window: tuple[float, float | None] | None, target: float | None, ran_min: float, words: str
) -> None:
    windows = {} if window is None else {"time_min": window}
    step = add_step(make_version(steps=False), StepKind.HAND_CLEAN, windows=windows)
    if target is not None:
        step.windows.update(target=target)
    assert forgotten_words(ran_min, step) == words


def test_a_forgotten_timer_is_a_deviation(floor: Floor) -> None:
    floor.version = make_version(steps=False)
    add_step(floor.version, StepKind.HAND_CLEAN, windows={"time_min": (20, None)})
    then = clock.now() - timedelta(minutes=60)
    record = floor.running_step(floor.started(floor.emptied(now=then), now=then), 1, now=then)
    actions.end_step(
        by=acting(floor.hand, now=clock.now()),
        record=record,
        observations=seen_well(record.clean, record.step),
    )
    assert [(d.kind, d.description) for d in Deviation.objects.all()] == [
        ("forgotten", "Timer ran 60 min, 20 min aimed for: a forgotten timer")
    ]
