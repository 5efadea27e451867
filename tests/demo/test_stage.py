"""The play's clock: deeds of many scripts, in the order of time."""

import random
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from brewhygiene.demo.stage import Script, Stage

NOW = datetime(2026, 3, 30, 9, 0, tzinfo=UTC)


@pytest.fixture
def stage() -> Stage:
    return Stage(now=NOW, zone=ZoneInfo("Europe/Copenhagen"), say=lambda line: None)


def test_deeds_of_two_scripts_are_done_in_the_order_of_time(stage: Stage) -> None:
    done: list[str] = []

    def script(name: str, *minutes: int) -> Script:
        for ago in minutes:
            yield stage.ago(ago)
            done.append(f"{name}{ago}")

    stage.add(script("a", 50, 20))
    stage.add(script("b", 40, 30, 10))
    stage.play()
    assert done == ["a50", "b40", "b30", "a20", "b10"]


def test_what_lies_after_now_is_not_played(stage: Stage) -> None:
    done: list[datetime] = []

    def script() -> Script:
        yield stage.now
        done.append(stage.moment)
        yield stage.now + timedelta(minutes=1)
        done.append(stage.moment)

    stage.add(script())
    stage.play()
    assert done == [NOW]


def test_script_that_steps_back_in_time_is_refused(stage: Stage) -> None:
    def script() -> Script:
        yield stage.ago(10)
        yield stage.ago(20)

    stage.add(script())
    with pytest.raises(ValueError, match="steps back in time"):
        stage.play()


def test_clock_of_an_earlier_day_is_the_brewerys_own(stage: Stage) -> None:
    """Copenhagen went from UTC+1 to UTC+2 on 29 March 2026."""
    assert stage.at(0, "06:30") == datetime(2026, 3, 30, 4, 30, tzinfo=UTC)
    assert stage.at(2, "06:30") == datetime(2026, 3, 28, 5, 30, tzinfo=UTC)


def test_everything_is_done_on_a_tablet_whose_clock_is_near(stage: Stage) -> None:
    by = stage.by(None)
    assert (by.now, by.address, by.client_time) == (stage.moment, "", None)


def test_what_is_played_aside_throws_none_of_the_dice_and_keeps_to_the_clock(stage: Stage) -> None:
    aside, next_throw = stage.aside(7), random.Random(20260310).random()
    seen: list[datetime] = []

    def script() -> Script:
        yield stage.ago(5)
        aside.by(None)
        aside.chance.random()
        seen.append(aside.moment)

    aside.add(script())
    stage.play()
    assert seen == [stage.ago(5)]
    assert stage.chance.random() == next_throw
    assert aside.chance is not stage.chance
