"""Where a clean's steps stand, worked out of records as they are loaded: no database."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from brewhygiene.turnarounds.models import StepReading
from brewhygiene.turnarounds.progress import (
    CleanProgress,
    chain_of,
    is_outside,
    minutes_of,
    open_deviations,
    open_unread,
    progress_of,
    standing_deviations,
    standing_readings,
    unread_windows,
)

T0 = datetime(2026, 3, 10, 6, 0, tzinfo=UTC)


def at(minutes: float) -> datetime:
    return T0 + timedelta(minutes=minutes)


class Rows(list[Any]):
    """What a loaded relation gives."""

    def all(self) -> "Rows":
        return self


def reading(pk: int, **values: Any) -> Any:
    return SimpleNamespace(
        **{"pk": pk, "quantity": "temperature_c", "value": 70.0, "corrects_id": None, **values}
    )


def deviation(pk: int = 1, decided: str = "", after: float | None = None, **values: Any) -> Any:
    return SimpleNamespace(
        **{
            "pk": pk,
            "kind": "below",
            "quantity": "temperature_c",
            "disposition": decided,
            "disposed_at": None if after is None else at(after),
            "reading_id": None,
            **values,
        }
    )


def attempt(
    pk: int = 1,
    *,
    step: int = 1,
    ended: float | None = 10,
    deviations: Sequence[Any] = (),
    readings: Sequence[Any] = (),
    extends: Any = None,
    **values: Any,
) -> Any:
    return SimpleNamespace(
        **{
            "pk": pk,
            "step_id": step,
            "started_at": T0,
            "ended_at": None if ended is None else at(ended),
            "left_out": False,
            "deviations": Rows(deviations),
            "readings": Rows(readings),
            "extends": extends,
            "extends_id": extends.pk if extends else None,
            **values,
        }
    )


def progress(*attempts: Any, running: bool = True, steps: int = 3) -> CleanProgress:
    """Of a clean with so many steps, whose keys are 1, 2, 3."""
    clean: Any = SimpleNamespace(
        running=running,
        step_records=Rows(attempts),
        version=SimpleNamespace(
            steps=Rows(SimpleNamespace(pk=number + 1) for number in range(steps))
        ),
    )
    return progress_of(clean)


def states(*attempts: Any, **values: Any) -> list[str]:
    return [item.state for item in progress(*attempts, **values).steps]


DONE = attempt(1)


@pytest.mark.parametrize(
    "attempts, state, extend",
    [
        ([attempt(ended=None)], "running", False),
        # A step that runs is running, whatever is open on it.
        ([attempt(ended=None, deviations=[deviation()])], "running", False),
        ([attempt()], "done", False),
        ([attempt(left_out=True)], "left_out", False),
        ([attempt(deviations=[deviation()])], "deviation", False),
        ([attempt(deviations=[deviation(decided="accept", after=11)])], "done", False),
        ([attempt(left_out=True, deviations=[deviation()])], "deviation", False),
        # Decided once it had ended, or in that moment: another attempt has to follow.
        ([attempt(deviations=[deviation(decided="repeat", after=11)])], "again", False),
        ([attempt(deviations=[deviation(decided="repeat", after=10)])], "again", False),
        ([attempt(deviations=[deviation(decided="extend", after=11)])], "again", True),
        ([attempt(deviations=[deviation(decided="extend", after=10)])], "again", True),
        (
            [attempt(left_out=True, deviations=[deviation(decided="repeat", after=11)])],
            "again",
            False,
        ),
        # Decided while it ran, so it simply ran on.
        ([attempt(deviations=[deviation(decided="extend", after=9)])], "done", False),
        # One of several decisions is enough, and to repeat outweighs to extend.
        (
            [
                attempt(
                    deviations=[
                        deviation(1, decided="accept", after=11),
                        deviation(2, decided="extend", after=11),
                        deviation(3, decided="repeat", after=11),
                    ]
                )
            ],
            "again",
            False,
        ),
        # Also where the reading that led to it was corrected since.
        (
            [
                attempt(
                    readings=[reading(1), reading(2, corrects_id=1)],
                    deviations=[deviation(decided="repeat", after=11, reading_id=1)],
                )
            ],
            "again",
            False,
        ),
        # The latest attempt tells, unless an earlier one is open to decision.
        (
            [attempt(1, deviations=[deviation(decided="repeat", after=11)]), attempt(2)],
            "done",
            False,
        ),
        ([attempt(1), attempt(2, ended=None)], "running", False),
        ([attempt(1, deviations=[deviation()]), attempt(2)], "deviation", False),
        ([attempt(1, left_out=True), attempt(2)], "done", False),
    ],
)
def test_a_step_is_where_its_latest_attempt_left_it(
    attempts: list[Any], state: str, extend: bool
) -> None:
    first = progress(*attempts).steps[0]
    assert (first.state, first.extend) == (state, extend)
    assert first.settled is (state in ("done", "left_out"))
    assert first.record is attempts[-1]
    assert first.attempts == attempts


@pytest.mark.parametrize(
    "attempts, running, found",
    [
        ([], True, ["next", "waiting", "waiting"]),
        ([], False, ["waiting", "waiting", "waiting"]),
        ([DONE], True, ["done", "next", "waiting"]),
        ([DONE], False, ["done", "waiting", "waiting"]),
        ([attempt(left_out=True)], True, ["left_out", "next", "waiting"]),
        ([attempt(ended=None)], True, ["running", "waiting", "waiting"]),
        ([attempt(deviations=[deviation()])], True, ["deviation", "waiting", "waiting"]),
        ([DONE, attempt(2, step=2)], True, ["done", "done", "next"]),
        ([DONE, attempt(2, step=2), attempt(3, step=3)], True, ["done", "done", "done"]),
        # A late correction opened the first step again.
        (
            [attempt(1, deviations=[deviation()]), attempt(2, step=2)],
            True,
            ["deviation", "done", "waiting"],
        ),
    ],
)
def test_the_first_step_that_is_not_settled_is_next_while_the_clean_runs(
    attempts: list[Any], running: bool, found: list[str]
) -> None:
    assert states(*attempts, running=running) == found
    clean = progress(*attempts, running=running)
    settled = [state in ("done", "left_out") for state in found]
    assert clean.settled_count == sum(settled)
    assert clean.complete is all(settled)
    if not clean.complete:
        assert clean.current is clean.steps[settled.index(False)]
    else:
        assert clean.current is None


def test_a_step_that_nobody_began_has_no_record() -> None:
    second = progress(DONE).steps[1]
    assert (second.record, second.attempts, second.readings, second.deviations) == (
        None,
        [],
        [],
        [],
    )
    assert (second.open_deviations, second.extend) == ([], False)


def test_a_step_is_found_by_itself_among_the_others() -> None:
    clean = progress(DONE)
    for number in (1, 2, 3):
        assert clean.of(SimpleNamespace(pk=number)) is clean.steps[number - 1]  # type: ignore[arg-type]


def test_a_correction_takes_the_place_of_what_it_corrects_and_of_its_deviation() -> None:
    first, second, third = reading(1), reading(2, corrects_id=1), reading(3, corrects_id=2)
    other = reading(4)
    record = attempt(
        readings=[first, second, third, other],
        deviations=[
            deviation(1, reading_id=1),
            deviation(2, reading_id=3),
            deviation(3, decided="accept", after=11, reading_id=4),
            deviation(4),
        ],
    )
    assert standing_readings(record) == [third, other]
    assert [item.pk for item in standing_deviations(record)] == [2, 3, 4]
    assert [item.pk for item in open_deviations(record)] == [2, 4]


def test_what_is_open_and_stands_is_told_of_every_attempt() -> None:
    first = attempt(1, readings=[reading(1)], deviations=[deviation(1, reading_id=1)])
    second = attempt(
        2,
        readings=[reading(2), reading(3, corrects_id=2)],
        deviations=[deviation(2, decided="accept", after=11), deviation(3)],
    )
    step = progress(first, second).steps[0]
    assert [item.pk for item in step.open_deviations] == [1, 3]
    assert [item.pk for item in step.deviations] == [1, 2, 3]
    assert [item.pk for item in step.readings] == [1, 3]


@pytest.mark.parametrize(
    "values, found",
    [
        ({}, True),
        ({"kind": "below"}, False),
        ({"quantity": "flow_l_min"}, False),
        ({"disposition": "accept"}, False),
    ],
)
def test_an_open_deviation_says_of_one_quantity_that_it_was_not_read(
    values: dict[str, Any], found: bool
) -> None:
    item = deviation(**{"kind": "not_read", **values})
    assert open_unread(attempt(deviations=[item]), "temperature_c") == ([item] if found else [])


# ---- attempts that prolong one another ----


def timed(pk: int, minutes: float, **values: Any) -> Any:
    return reading(pk, quantity="time_min", value=minutes, **values)


def test_a_progress_joins_an_attempt_to_the_loaded_one_that_it_prolongs() -> None:
    first = attempt(1)
    second = attempt(2, extends=SimpleNamespace(pk=1))
    progress(first, second)
    assert second.extends is first
    assert chain_of(second) == [second, first]
    assert chain_of(first) == [first]


@pytest.mark.parametrize(
    "ended, readings, minutes",
    [
        # Running: to the moment that is asked for; ended: to its end.
        (None, [], 30),
        (10, [], 10),
        # A time that was typed or corrected counts before the clock, the last of them.
        (10, [timed(1, 12)], 12),
        (10, [timed(1, 12), timed(2, 14, corrects_id=1)], 14),
        (10, [timed(1, 12), timed(2, 13)], 13),
        (10, [timed(1, 0)], 0),
        (10, [reading(1, value=70)], 10),
    ],
)
def test_minutes_are_those_of_the_clock_unless_typed(
    ended: float | None, readings: list[Any], minutes: float
) -> None:
    assert minutes_of(attempt(ended=ended, readings=readings), until=at(30)) == minutes


def test_minutes_of_attempts_that_prolong_one_another_add_up_to_the_typed_one() -> None:
    first = attempt(1, ended=10)
    second = attempt(2, ended=5, extends=first)
    third = attempt(3, ended=None, extends=second)
    assert minutes_of(third, until=at(3)) == 18
    second.readings.append(timed(1, 12))
    # What was typed for the second covers the first.
    assert minutes_of(third, until=at(3)) == 15
    third.readings.append(timed(2, 20))
    assert minutes_of(third, until=at(3)) == 20


def test_a_window_is_read_once_any_attempt_of_the_chain_was_and_time_by_the_clock() -> None:
    windows: Any = [
        SimpleNamespace(quantity=quantity)
        for quantity in ("concentration", "temperature_c", "time_min", "flow_l_min")
    ]
    first = attempt(1, readings=[reading(1, quantity="concentration")])
    second = attempt(2, readings=[reading(2)], extends=first)
    assert [one.quantity for one in unread_windows(second, windows)] == ["flow_l_min"]
    assert [one.quantity for one in unread_windows(first, windows)] == [
        "temperature_c",
        "flow_l_min",
    ]


@pytest.mark.parametrize(
    "verdict, outside",
    [("below", True), ("above", True), ("within", False), ("no_window", False)],
)
def test_a_reading_is_outside_its_window_on_either_side(verdict: str, outside: bool) -> None:
    assert is_outside(StepReading(verdict=verdict)) is outside
