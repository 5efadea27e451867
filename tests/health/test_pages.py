"""The health page, the word for machines, and that no browser keeps a private page."""

import re
import shutil
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from brewhygiene import __version__
from brewhygiene.archive import data_folder, notice
from brewhygiene.archive.daily import daily_backup
from brewhygiene.archive.data_folder import Installation
from brewhygiene.archive.keeping import name_for
from brewhygiene.archive.words import size_words
from brewhygiene.health import checks
from brewhygiene.health.checks import Line, health_lines
from brewhygiene.ledger.heads.head import make_head
from tests.archive.conftest import NOW
from tests.board.scenes import Now
from tests.factories import make_head_brewer, make_owner, make_user, make_vessel
from tests.turnarounds.floor import signed_in

HEALTH = "/health/"


def by_title(lines: list[Line]) -> dict[str, Line]:
    return {line.title: line for line in lines}


# The health page


@pytest.mark.django_db
def test_health_is_for_head_brewer_and_owner() -> None:
    cellar = Now()
    codes = {
        who: signed_in(user).get(HEALTH).status_code
        for who, user in (
            ("brewer", cellar.brewer),
            ("owner", cellar.owner),
            ("hand", cellar.hand),
            ("nobody", make_user()),
        )
    }
    assert codes == {"brewer": 200, "owner": 200, "hand": 403, "nobody": 403}
    assert Client().get(HEALTH)["Location"] == "/sign-in/?next=/health/"
    assert f'href="{HEALTH}"' in signed_in(cellar.owner).get("/set-up/").content.decode()
    assert f'href="{HEALTH}"' not in signed_in(cellar.hand).get("/set-up/").content.decode()


def test_every_line_of_a_sound_installation(story: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "LITTLE_ROOM_BYTES", 0)
    call_command("backup", verbosity=0)
    make_head(way="folder", now=timezone.now())
    story.chmod(0o700)
    lines = by_title(health_lines(timezone.now()))
    assert list(lines) == [
        "Database",
        "Ledger",
        "Clock",
        "Disk of the data folder",
        "Data folder",
        "Newest backup",
        "Disk of the backups",
        "HTTPS",
        "Newest head outside",
        "Version",
    ]
    assert [line.title for line in lines.values() if line.attention] == []
    assert re.fullmatch(r"SQLite 3\.[\d.]+, \d\.\d MB", lines["Database"].value)
    moment = r"\d{1,2} [A-Z][a-z]{2} \d{4}, \d\d:\d\d"
    assert re.fullmatch(rf"\d+ entries, the last on {moment}", lines["Ledger"].value)
    assert re.fullmatch(moment, lines["Clock"].value)
    assert " free of " in lines["Disk of the data folder"].value
    assert lines["Data folder"].value == f"{story}, open to the server's account only"
    assert ", less than 1 h old, " in lines["Newest backup"].value
    assert re.fullmatch(
        rf"{moment}, less than 1 h old, in the folder for heads", lines["Newest head outside"].value
    )
    assert f" 1 in {story}/backups, kept by age: 14 days" in lines["Newest backup"].value
    assert lines["Version"].value.startswith(f"{__version__}, Django 5.2")


def test_what_is_wrong_says_what_to_do(story: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "LITTLE_ROOM_BYTES", 10**18)
    monkeypatch.setattr(daily_backup, "why", "There is no room left.")
    story.chmod(0o755)
    lines = by_title(health_lines(NOW - timedelta(days=900)))
    wrong = {title: line.do for title, line in lines.items() if line.attention}
    assert set(wrong) >= {
        "Clock",
        "Disk of the data folder",
        "Data folder",
        "Newest backup",
        "Disk of the backups",
    }
    assert "before the last ledger entry" in lines["Clock"].value
    assert wrong["Newest backup"] == "There is no room left."
    assert lines["Newest backup"].value == f"None in {story}/backups"
    assert "open to others" in lines["Data folder"].value


def test_backup_of_three_days_ago_needs_attention(story: Path) -> None:
    data_folder.write_marker(Installation(id="4f2a9c01" + "0" * 24))
    (story / "backups").mkdir()
    name = name_for("4f2a9c01", NOW - timedelta(days=3), sealed=True)
    (story / "backups" / name).write_bytes(b"0" * 2000)
    line = by_title(health_lines(NOW))["Newest backup"]
    assert line.attention
    assert line.value.startswith("13 Mar 2026, 12:00, 3 days old, 2 kB. 1 in ")
    assert line.do == "Run manage.py backup on the server, and see what it says."


def test_line_that_cannot_be_looked_at_leaves_the_others(
    story: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unreadable(*_: Any, **__: Any) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(checks, "archives_in", unreadable)
    lines = by_title(health_lines(NOW))
    assert lines["Newest backup"].value == "Permission denied"
    assert lines["Newest backup"].attention
    assert len(lines) == 10


@pytest.mark.parametrize(
    "newest, line",
    [
        (None, Line("", "None yet", True, "Print a release record, or set up a folder for heads.")),
        (
            (NOW - timedelta(hours=5), "folder"),
            Line("", "16 Mar 2026, 07:00, 5 h old, folder"),
        ),
    ],
)
def test_head_outside_is_shown_with_its_age(
    monkeypatch: pytest.MonkeyPatch, newest: Any, line: Line
) -> None:
    monkeypatch.setattr(checks, "newest_outside", lambda: newest)
    assert checks.outside_head(NOW) == line


def test_times_are_by_the_brewery_s_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "newest_outside", lambda: (NOW - timedelta(hours=47), "folder"))
    with timezone.override("Europe/Copenhagen"):
        assert checks.outside_head(NOW).value == "14 Mar 2026, 14:00, 47 h old, folder"


@pytest.mark.parametrize(
    "count, words",
    [
        (1, "1 kB"),
        (999_499, "999 kB"),
        (1_000_000, "1.0 MB"),
        (999_900_000, "999.9 MB"),
        (1_000_000_000, "1.0 GB"),
        (270_553_200_000, "270.6 GB"),
    ],
)
def test_sizes_are_in_the_unit_that_is_read_at_a_glance(count: int, words: str) -> None:
    assert size_words(count) == words


@pytest.mark.django_db
def test_health_takes_the_same_queries_for_any_brewery(django_assert_num_queries: Any) -> None:
    cellar = Now()
    client = signed_in(cellar.brewer)
    client.get(HEALTH)
    for _ in range(2):
        with django_assert_num_queries(12 + (connection.vendor == "postgresql")):
            client.get(HEALTH)
        cellar.to_decide(vessel=make_vessel())


# What the board tells


@pytest.fixture
def stale(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder whose newest backup is three days old."""
    settings.DATA_DIR, settings.BACKUP_DIR = tmp_path, tmp_path / "backups"
    monkeypatch.setattr(data_folder, "marker", data_folder._Marker())
    monkeypatch.setattr(notice, "_newest", notice.Newest())
    begun = timezone.now() - timedelta(days=90)
    data_folder.write_marker(Installation(id="4f2a9c01", begun_at=begun.isoformat()))
    (tmp_path / "backups").mkdir()
    name = name_for("4f2a9c01", timezone.now() - timedelta(days=3, hours=1), sealed=False)
    (tmp_path / "backups" / name).write_bytes(b"")
    return tmp_path


WORDS = "The newest backup is 3 days old."


@pytest.mark.django_db
def test_board_tells_head_brewer_and_owner_of_an_old_backup_and_no_one_else(stale: Path) -> None:
    cellar = Now()
    told = {
        who: WORDS in signed_in(user).get("/").content.decode()
        for who, user in (
            ("brewer", cellar.brewer),
            ("owner", cellar.owner),
            ("hand", cellar.hand),
        )
    }
    assert told == {"brewer": True, "owner": True, "hand": False}
    page = signed_in(cellar.brewer).get("/").content.decode()
    assert f'<a href="{HEALTH}">Health</a>' in page
    shutil.rmtree(stale / "backups")
    (stale / "installation.json").unlink()
    assert WORDS not in signed_in(cellar.brewer).get("/").content.decode()


@pytest.mark.django_db
def test_telling_costs_no_query(stale: Path, django_assert_num_queries: Any) -> None:
    cellar = Now()
    client = signed_in(make_head_brewer())
    cellar.to_decide()
    with CaptureQueriesContext(connection) as told:
        assert WORDS in client.get("/").content.decode()
    (stale / "installation.json").unlink()
    with django_assert_num_queries(len(told)):
        assert WORDS not in client.get("/").content.decode()


# For machines


@pytest.mark.django_db
def test_healthz_says_ok_to_anybody_and_nothing_else() -> None:
    answer = Client().get("/healthz")
    assert (answer.status_code, answer.content) == (200, b"ok\n")
    assert answer["Content-Type"] == "text/plain"
    assert answer["Cache-Control"] == "no-store"
    assert "Set-Cookie" not in answer
    assert Client().post("/healthz").status_code == 405


@pytest.mark.django_db
def test_healthz_is_a_fault_where_there_is_no_room(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checks, "LEAST_ROOM_BYTES", 10**18)
    answer = Client().get("/healthz")
    assert (answer.status_code, answer.content) == (503, b"fault\n")


# Nobody keeps a copy; every address is asked for it by tests/fuzz/test_access.py


@pytest.mark.django_db
def test_record_on_paper_is_not_kept_either() -> None:
    cellar = Now()
    turnaround = cellar.emptied(now=cellar.now)
    answer = signed_in(make_owner()).get(reverse("reports:record", args=[turnaround.pk]))
    assert answer["Cache-Control"] == "private, no-cache, no-store"
