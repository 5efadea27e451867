"""The suite's clock: the only time that a test may read.

Every test gets it by itself (the project's ``conftest.py``): it stands at ``ORIGIN``, and in
browser tests it ticks from there, in the live server, in Chromium and in the processes that are
started. A test that looks at days or hours is marked ``instants``: it runs at each of ``INSTANTS``,
and by ``make week`` at every hour of a week; one marked ``hourly`` does only the latter.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import time_machine
from django.utils import timezone

# A Wednesday in the middle of a month and of a year, in the middle of a minute.
ORIGIN = datetime(2026, 6, 17, 10, 24, 37, tzinfo=UTC)
# Where the clocks are changed, and midnight is at another hour than in UTC.
ZONE = "Europe/Copenhagen"
IN_PROCESSES = Path(__file__).parent / "in_processes"
VARIABLE = "CLOCK_OF_THE_SUITE"


class RealClock(Exception):
    """Somebody asked for the time while the suite's clock was not set."""


@dataclass(frozen=True)
class Instant:
    """When a test runs, and in which zone its brewery lies."""

    name: str
    at: datetime
    zone: str = ZONE


USUAL = Instant("usual", ORIGIN, zone="UTC")


def _local(name: str, *parts: int, fold: int = 0) -> Instant:
    moment = datetime(*parts, tzinfo=ZoneInfo(ZONE), fold=fold)  # type: ignore[arg-type,misc]
    return Instant(name, moment.astimezone(UTC))


INSTANTS = (
    USUAL,
    _local("Thursday night", 2026, 6, 18, 23, 40, 12),
    _local("Saturday", 2026, 6, 20, 13, 5),
    _local("Monday just begun", 2026, 6, 22, 0, 10),
    _local("the month's last night", 2026, 6, 30, 23, 50),
    _local("the year's last night", 2026, 12, 31, 23, 30),
    _local("the morning the clocks go forward", 2026, 3, 29, 3, 10),
    _local("the second half past two, the clocks gone back", 2026, 10, 25, 2, 30, fold=1),
)


def hours_of_a_week() -> tuple[Instant, ...]:
    """168 instants, an hour and seven minutes' drift apart: the week that ends with winter time."""
    monday = datetime(2026, 10, 19, tzinfo=ZoneInfo(ZONE)).astimezone(UTC)
    return tuple(
        Instant(f"hour {n:03}", monday + timedelta(hours=n, minutes=7 * n % 60)) for n in range(168)
    )


_zone = USUAL.zone


def now() -> datetime:
    """What time it is in the test."""
    _assert_set()
    return timezone.now()


def local() -> datetime:
    """The same, as the brewery's own wall clock shows it."""
    _assert_set()
    return timezone.localtime()


def today() -> date:
    """The brewery's day."""
    _assert_set()
    return timezone.localdate()


def zone() -> str:
    """Where the test's brewery lies, unless the test says otherwise."""
    return _zone


def _assert_set() -> None:
    if not time_machine.escape_hatch.is_travelling():
        raise RealClock("The suite's clock is not set: this would be the real time.")


# What the time of the test is set by.
_traveller: time_machine.Traveller | None = None


def move_on(by: timedelta) -> None:
    """Let so much time have passed in the test."""
    _assert_set()
    assert _traveller is not None
    _traveller.shift(by)


@contextmanager
def standing_at(instant: Instant, *, ticking: bool = False) -> Iterator[None]:
    """The whole process has this time; what it starts meanwhile ticks from there."""
    global _zone, _traveller
    before, variables = _zone, {name: os.environ.get(name) for name in ("PYTHONPATH", VARIABLE)}
    with (
        time_machine.travel(instant.at, tick=ticking) as traveller,
        timezone.override(instant.zone),
    ):
        outer, _traveller = _traveller, traveller
        _zone = instant.zone
        os.environ |= {"PYTHONPATH": str(IN_PROCESSES), VARIABLE: _told(instant)}
        try:
            yield
        finally:
            _zone, _traveller = before, outer
            for name, value in variables.items():
                if value is None:
                    os.environ.pop(name, None)
                else:
                    os.environ[name] = value


def _told(instant: Instant) -> str:
    """What a process needs to go by the same clock: our time, and the real one at that moment."""
    return f"{instant.at.timestamp()} {time_machine.escape_hatch.time.time()}"


def environment() -> dict[str, str]:
    """What gives the suite's clock to a Python that does not inherit this process's variables."""
    return {name: os.environ[name] for name in ("PYTHONPATH", VARIABLE)}


def refuse_processes_without_it(event: str, about: tuple[Any, ...]) -> None:
    """An audit hook: no test starts a Python that would go by the real clock."""
    if event != "subprocess.Popen" or not time_machine.escape_hatch.is_travelling():
        return
    program, _, _, variables = about
    if variables is None or not Path(os.fsdecode(program)).name.startswith("python"):
        return
    if VARIABLE not in {os.fsdecode(name) for name in variables}:
        raise RealClock(f"Started without the suite's clock (give it environment()): {program}")
