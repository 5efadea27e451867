"""No test reads the real clock, and the suite's clock is what everything goes by."""

import os
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.utils import timezone

from tests import clock
from tests.clock.reading import Found, read_in
from tests.factories import make_vessel

TESTS = Path(__file__).parents[1]
ROOT = TESTS.parent
# The clock itself; and what measures the product on a machine, for which nothing stands still.
MAY_READ = {
    "clock/__init__.py",
    "clock/in_processes/sitecustomize.py",
    "clock/test_clock.py",
    "health/test_pages.py",  # the story of an old database sets a clock of its own
    "bench/servers.py",  # servers and certificates at the real time
    "mutants/__main__.py",  # a run of its own, at the real time
}
MAY_MEASURE = {
    *MAY_READ,
    "bench/__main__.py",
    "bench/logger_files.py",
    "browser/checks/conformance.py",  # until the checker answers, and no longer than a minute
    "browser/pictures.py",
    "mutants/running.py",
    "ledger/test_concurrency.py",  # that writers do not wait for each other for ever
    "science/limits/test_side_by_side.py",  # the same
    "science/rates/test_odds.py",  # that a sum takes less than a second
    "serving/test_serve.py",  # until the server answers
}


def files() -> list[Path]:
    found = [
        path
        for path in sorted(TESTS.rglob("*.py"))
        if "node_modules" not in path.parts and "__pycache__" not in path.parts
    ]
    assert len(found) > 200
    return [*found, ROOT / "conftest.py"]


def read(path: Path) -> list[Found]:
    return read_in(path.read_text(encoding="utf-8"))


def name_of(path: Path) -> str:
    return path.relative_to(TESTS if path.is_relative_to(TESTS) else ROOT).as_posix()


def places(kinds: set[str], *, but: set[str]) -> list[str]:
    return [
        f"{name_of(path)}:{found.line}: {found.name}"
        for path in files()
        if name_of(path) not in but
        for found in read(path)
        if found.kind in kinds
    ]


def test_no_test_reads_the_real_clock() -> None:
    assert places({"clock", "setting"}, but=MAY_READ) == []


def test_no_test_waits_by_time_or_measures_it_but_where_that_is_its_subject() -> None:
    assert places({"duration", "wait"}, but=MAY_MEASURE) == []


def test_files_that_may_measure_time_do() -> None:
    """A file that no longer does is taken from the list."""
    needless = [name for name in MAY_MEASURE - MAY_READ if not read(TESTS / name)]
    assert needless == []


@pytest.mark.parametrize(
    "source, name, kind",
    [
        ("from django.utils import timezone\ntimezone.now()", "django.utils.timezone.now", "clock"),
        ("from django.utils.timezone import now as n\nn()", "django.utils.timezone.now", "clock"),
        ("import django.utils.timezone\ndjango.utils.timezone.localdate()",
         "django.utils.timezone.localdate", "clock"),
        ("import datetime as d\nd.datetime.now(tz=d.UTC)", "datetime.datetime.now", "clock"),
        ("from datetime import date\nfirst = date.today", "datetime.date.today", "clock"),
        ("import time\ntime.time()", "time.time", "clock"),
        ("import time\ntime.localtime()", "time.localtime", "clock"),
        ("import time\ntime.localtime(None)", "time.localtime", "clock"),
        ("from django.utils import timezone\ntimezone.localtime(timezone=x)",
         "django.utils.timezone.localtime", "clock"),
        ("from time import sleep\nsleep(1)", "time.sleep", "duration"),
        ("page.wait_for_timeout(500)", "wait_for_timeout", "wait"),
        ("def test():\n    import time_machine", "time_machine", "setting"),
    ],
)  # fmt: skip
def test_reading_of_a_clock_is_found(source: str, name: str, kind: str) -> None:
    assert [(found.name, found.kind) for found in read_in(source)] == [(name, kind)]


@pytest.mark.parametrize(
    "source",
    [
        "from django.utils import timezone\ntimezone.localtime(study.now)",
        "from django.utils import timezone\ntimezone.localtime(value=study.now, timezone=UTC)",
        "from tests import clock\nclock.now()",
        "import time\ntime.strftime('%Y', moment)",
        "row.now()",
    ],
)
def test_what_only_looks_like_a_clock_is_let_be(source: str) -> None:
    assert read_in(source) == []


def test_clock_stands_still_at_its_origin() -> None:
    assert clock.now() == clock.ORIGIN == timezone.now() == datetime.now(tz=UTC)
    assert clock.today() == clock.ORIGIN.date()
    assert time.time() == clock.ORIGIN.timestamp()
    assert clock.now() == clock.ORIGIN


def test_clock_that_is_not_set_refuses_to_tell_the_real_time() -> None:
    """In a process of its own that was given no clock: what a test module would read alone."""
    outcome = child("from tests import clock\nclock.now()", PYTHONPATH=str(ROOT))
    assert outcome.returncode == 1
    assert "RealClock: The suite's clock is not set" in outcome.stderr


def child(code: str, **variables: str) -> subprocess.CompletedProcess[str]:
    """A Python, started through the shell: what the guard below keeps tests from doing."""
    settings = {"DJANGO_SETTINGS_MODULE": "tests.settings", "PATH": os.environ["PATH"]}
    return subprocess.run(
        ["/bin/sh", "-c", 'exec "$0" -c "$1"', sys.executable, code],
        env={**settings, **variables},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


def test_python_that_a_test_starts_goes_by_the_suites_clock() -> None:
    code = "from datetime import datetime, UTC; print(datetime.now(tz=UTC).timestamp())"
    inherited = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    given = subprocess.run(
        [sys.executable, "-c", code],
        env=clock.environment(),
        capture_output=True,
        text=True,
        check=True,
    )
    for outcome in (inherited, given):
        ahead = float(outcome.stdout) - clock.ORIGIN.timestamp()
        assert 0 < ahead < 300


def test_python_that_would_go_by_the_real_clock_is_refused() -> None:
    with pytest.raises(clock.RealClock, match="Started without the suite's clock"):
        subprocess.run([sys.executable, "-c", "1"], env={"PATH": "/bin"}, check=False)


@pytest.mark.instants
@pytest.mark.django_db
def test_marked_test_runs_at_its_instant_in_a_brewery_of_its_zone(
    request: pytest.FixtureRequest, client: Client
) -> None:
    instant: clock.Instant = request.node.callspec.params["suite_clock"]
    assert clock.now() == instant.at
    assert timezone.get_current_timezone_name() == clock.zone() == instant.zone
    assert clock.local().date() == clock.today()


def test_instants_are_what_they_are_called() -> None:
    local = {one.name: one.at.astimezone(timezone.get_current_timezone()) for one in clock.INSTANTS}
    assert local["usual"].strftime("%A") == "Wednesday"
    zone = clock.ZoneInfo(clock.ZONE)
    at = {one.name: one.at.astimezone(zone) for one in clock.INSTANTS}
    assert at["Thursday night"].strftime("%A %H") == "Thursday 23"
    assert at["Saturday"].strftime("%A") == "Saturday"
    assert at["Monday just begun"].strftime("%A %H:%M") == "Monday 00:10"
    assert (at["the month's last night"] + timedelta(hours=1)).day == 1
    assert at["the year's last night"].strftime("%j %H") == "365 23"
    hour = timedelta(hours=1)
    forward = clock.INSTANTS[-2].at
    assert (forward - hour).astimezone(zone).utcoffset() == hour
    assert forward.astimezone(zone).utcoffset() == 2 * hour
    back = clock.INSTANTS[-1].at
    assert (back - hour).astimezone(zone).utcoffset() == 2 * hour
    assert back.astimezone(zone).utcoffset() == hour


def test_week_has_every_hour_of_its_seven_days() -> None:
    zone = clock.ZoneInfo(clock.ZONE)
    hours = clock.hours_of_a_week()
    assert len({hour.name for hour in hours}) == len(hours) == 168
    assert {hour.at.replace(minute=0) for hour in hours} == {
        hours[0].at.replace(minute=0) + timedelta(hours=n) for n in range(168)
    }
    days = {(hour.at.astimezone(zone).weekday(), hour.at.astimezone(zone).hour) for hour in hours}
    assert len(days) >= 167


@pytest.mark.parametrize("round_", [1, 2])
def test_names_do_not_depend_on_the_tests_before(round_: int, db: None) -> None:
    assert [make_vessel(points=0).name for _ in range(2)] == ["FV1", "FV2"]
