"""The daily backup: when it is due, what a failure leads to, and what the board tells."""

import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from brewhygiene.archive import daily, data_folder, notice
from brewhygiene.archive.daily import FIRST_LOOK_S, LOOK_S, DailyBackup
from brewhygiene.archive.data_folder import Installation
from brewhygiene.archive.keeping import name_for

NIGHT = datetime(2026, 3, 16, 3, 15, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
MINE = "4f2a9c01" + "0" * 24


class Clock:
    def __init__(self) -> None:
        self.now = NIGHT

    def __call__(self) -> datetime:
        return self.now


class Scene:
    """A backup that can be made to fail, on a clock that stands."""

    def __init__(self, *, newest: datetime | None = None) -> None:
        self.clock, self.newest, self.why = Clock(), newest, ""
        self.made: list[datetime] = []
        self.daily = DailyBackup(clock=self.clock, newest=lambda: self.newest, back_up=self.back_up)

    def back_up(self) -> str:
        self.made.append(self.clock.now)
        if not self.why:
            self.newest = self.clock.now
        return self.why

    def look_after(self, pause: timedelta) -> bool:
        self.clock.now += pause
        return self.daily.look()


@pytest.mark.parametrize(
    "age, due",
    [
        (None, True),
        (timedelta(0), False),
        (DAY - timedelta(seconds=1), False),
        (DAY, True),
        (timedelta(seconds=-1), True),
    ],
)
def test_due_a_day_after_the_newest(age: timedelta | None, due: bool) -> None:
    assert Scene(newest=None if age is None else NIGHT - age).daily.due() is due


def test_one_a_day_however_often_it_looks() -> None:
    scene = Scene()
    for _ in range(6 * 24 * 3):
        scene.look_after(timedelta(minutes=10))
    assert [moment - NIGHT for moment in scene.made] == [
        timedelta(minutes=10) + number * DAY for number in range(3)
    ]


def test_failed_one_is_tried_again_after_an_hour_and_says_why(
    caplog: pytest.LogCaptureFixture,
) -> None:
    scene = Scene()
    scene.why = "There is no room left."
    assert scene.look_after(timedelta(0))
    assert scene.daily.why == "There is no room left."
    assert caplog.messages == ["The daily backup failed. There is no room left."]
    assert not scene.look_after(HOUR - timedelta(seconds=1))
    scene.why = ""
    assert scene.look_after(timedelta(seconds=1))
    assert scene.daily.why == ""
    assert not scene.look_after(HOUR)


def test_folder_that_cannot_be_read_is_tried() -> None:
    scene = Scene()

    def unreadable() -> datetime:
        raise PermissionError(13, "Permission denied")

    assert DailyBackup(clock=scene.clock, newest=unreadable, back_up=scene.back_up).look()


def test_thread_looks_after_five_minutes_then_every_ten_and_stops() -> None:
    scene, pauses = Scene(), []

    def wait(seconds: float) -> bool:
        pauses.append(seconds)
        scene.clock.now += timedelta(seconds=seconds)
        return len(pauses) == 4

    scene.daily.run(wait)
    assert pauses == [FIRST_LOOK_S, LOOK_S, LOOK_S, LOOK_S] == [300, 600, 600, 600]
    assert scene.made == [NIGHT + timedelta(minutes=5)]


@pytest.mark.parametrize(
    "code, stderr, why",
    [
        (0, "", ""),
        (0, "a warning", ""),
        (1, "CommandError: There is no room left.\n", "There is no room left."),
        (1, "Traceback\nKeyError: 'x'\n", "KeyError: 'x'"),
        (-9, "", "It gave no reason."),
    ],
)
def test_own_process_says_why_it_failed(
    monkeypatch: pytest.MonkeyPatch, code: int, stderr: str, why: str
) -> None:
    def run(command: list[str], **_: Any) -> subprocess.CompletedProcess[str]:
        assert command[1].endswith("/manage.py")
        assert command[2:] == ["backup"]
        return subprocess.CompletedProcess(command, code, "", stderr)

    monkeypatch.setattr(daily.subprocess, "run", run)
    assert daily.run_backup() == why


# What the board tells


@pytest.fixture
def folder(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that a server was started in, at night."""
    settings.DATA_DIR, settings.BACKUP_DIR = tmp_path, tmp_path / "backups"
    monkeypatch.setattr(data_folder, "marker", data_folder._Marker())
    monkeypatch.setattr(notice, "_newest", notice.Newest())
    data_folder.write_marker(Installation(id=MINE, begun_at=NIGHT.isoformat()))
    return tmp_path


def put(folder: Path, made_at: datetime, installation: str = MINE) -> None:
    (folder / "backups").mkdir(exist_ok=True)
    (folder / "backups" / name_for(installation, made_at, sealed=False)).write_bytes(b"")


@pytest.mark.parametrize(
    "age, words",
    [
        (timedelta(days=2), ""),
        (timedelta(days=2, seconds=1), "The newest backup is 2 days old."),
        (timedelta(days=9), "The newest backup is 9 days old."),
    ],
)
def test_newest_older_than_two_days_is_told(folder: Path, age: timedelta, words: str) -> None:
    put(folder, NIGHT - 30 * DAY)
    put(folder, NIGHT)
    put(folder, NIGHT + age, installation="77777777" + "0" * 24)
    assert notice.stale_words(NIGHT + age) == words


@pytest.mark.parametrize(
    "age, words",
    [
        (timedelta(days=2), ""),
        (timedelta(days=3), "There is no backup yet, after 3 days."),
    ],
)
def test_none_yet_is_told_after_two_days(folder: Path, age: timedelta, words: str) -> None:
    assert notice.stale_words(NIGHT + age) == words


def test_folder_that_no_server_was_started_in_tells_nothing(folder: Path) -> None:
    data_folder.marker_path().unlink()
    assert notice.stale_words(NIGHT + 9 * DAY) == ""


def test_folder_that_cannot_be_read_is_told(folder: Path) -> None:
    (folder / "backups").symlink_to(folder / "backups")
    assert notice.stale_words(NIGHT).startswith("The folder of the backups cannot be read (")
