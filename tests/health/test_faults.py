"""Disk and database fail for real: the page says what and what to do, and keeps what was typed."""

import errno
import html
import io
import re
import resource
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import psycopg
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, OperationalError, connection
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from PIL import Image

from brewhygiene.atp.models.meters import AtpTestLot, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import Vessel
from brewhygiene.health import faults
from brewhygiene.health.faults import Fault, fault_of
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.turnarounds.models import Turnaround
from tests.archive.conftest import NOW

HIDDEN = re.compile(r'<input type="hidden" name="([^"]+)" value="([^"]*)">')
NOTE = "Seam of the arm & <the gasket>"


@pytest.fixture(autouse=True)
def _on_that_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def desk(story: Path) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(User.objects.get(full_name="Mara Oduya"))
    return client


def sample_page() -> tuple[str, dict[str, Any]]:
    turnaround = Turnaround.objects.order_by("pk")[1]
    point = turnaround.vessel.points.get(name="Cone, last rinse")
    lot = AtpTestLot.objects.get(atp_test__sample_kind=point.sample_kind)
    return reverse("atp:sample", args=[turnaround.pk, point.pk]), {
        "meter": Meter.objects.order_by("pk")[0].pk,
        "test_lot": lot.pk,
        "rinse_end": "sanitiser_left",
        "rlu": "7",
        "note": NOTE,
        "key": "one-form-1",
        "password": "never shown again",
    }


def send(client: Client, **values: Any) -> HttpResponse:
    address, typed = sample_page()
    return client.post(address, {**typed, **values})


def kept_values(answer: HttpResponse) -> dict[str, str]:
    return {
        html.unescape(name): html.unescape(value)
        for name, value in HIDDEN.findall(answer.content.decode())
    }


def assert_says(answer: HttpResponse, fault: Fault, *, sent: bool = True) -> None:
    page = html.unescape(answer.content.decode())
    assert answer.status_code == 503
    assert f"<h1>{fault.what}</h1>" in page
    assert fault.do in page
    assert ("Nothing was recorded." in page) is sent
    assert answer["Cache-Control"] == "no-store"
    assert unquote(answer["X-Fault"]).startswith(fault.what)


@contextmanager
def write_lock(folder: Path) -> Iterator[None]:
    """Another program that is writing to the database."""
    connection.settings_dict["OPTIONS"]["timeout"] = 0
    connection.close()
    with closing(sqlite3.connect(folder / "brewhygiene.sqlite3", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


def test_locked_database_keeps_what_was_typed_and_takes_it_once_later(
    desk: Client, story: Path
) -> None:
    address, typed = sample_page()
    results, entries = Result.objects.count(), Entry.objects.count()
    with write_lock(story):
        answer = desk.post(address, typed)
    assert_says(answer, faults.LOCKED)
    page = answer.content.decode()
    assert f'action="{address}"' in page
    assert f"<dt>Note</dt><dd>{html.escape(NOTE)}</dd>" in page
    assert "never shown again" not in page
    assert '<input type="password" name="password"' in page
    kept = kept_values(answer)
    assert kept == {name: str(value) for name, value in typed.items() if name != "password"}
    assert (Result.objects.count(), Entry.objects.count()) == (results, entries)
    for _ in range(2):
        assert desk.post(address, kept).status_code == 302
        assert (Result.objects.count(), Entry.objects.count()) == (results + 1, entries + 1)


def test_full_disk_loses_nothing_that_was_acknowledged(desk: Client) -> None:
    address, typed = sample_page()
    results = Result.objects.count()
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA page_count")
        cursor.execute(f"PRAGMA max_page_count={cursor.fetchone()[0]}")
        cursor.fetchall()
    acknowledged = 0
    for number in range(400):
        answer = desk.post(address, {**typed, "key": f"form-{number}", "note": "n" * 200})
        if answer.status_code != 302:
            break
        acknowledged += 1
    assert_says(answer, faults.FULL)
    assert kept_values(answer)["key"] == f"form-{acknowledged}"
    assert Result.objects.count() == results + acknowledged
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA max_page_count=1000000")
        cursor.fetchall()
    assert desk.post(address, kept_values(answer)).status_code == 302
    assert Result.objects.count() == results + acknowledged + 1


def test_read_only_database_is_named(desk: Client) -> None:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only=ON")
        answer = send(desk)
        cursor.execute("PRAGMA query_only=OFF")
    assert_says(answer, faults.READ_ONLY)
    assert send(desk).status_code == 302


def damage(folder: Path, table: str) -> None:
    """Overwrite a table's first page in the file."""
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        cursor.fetchall()
        cursor.execute("SELECT rootpage FROM sqlite_master WHERE name = %s", [table])
        (page,) = cursor.fetchone()
    connection.close()
    with (folder / "brewhygiene.sqlite3").open("rb+") as file:
        file.seek((page - 1) * 4096)
        file.write(b"\xff" * 4096)


def test_damaged_database_is_named_on_the_page_that_meets_it(desk: Client, story: Path) -> None:
    damage(story, "brewhygiene_vessel")
    answer = desk.get("/")
    assert_says(answer, faults.CORRUPT, sent=False)
    assert b"Open the page again" in answer.content


def test_file_that_is_no_database_is_named(desk: Client, story: Path) -> None:
    connection.close()
    for path in story.glob("brewhygiene.sqlite3-*"):
        path.unlink()
    (story / "brewhygiene.sqlite3").write_bytes(b"\0" * 8192 + b"text")
    assert_says(desk.get("/"), faults.CORRUPT, sent=False)


def test_database_that_is_gone_is_named(desk: Client, tmp_path: Path) -> None:
    connection.close()
    connection.settings_dict["NAME"] = str(tmp_path / "nowhere" / "brewhygiene.sqlite3")
    assert_says(desk.get("/"), faults.GONE, sent=False)
    answer = desk.get("/healthz")
    assert (answer.status_code, answer.content) == (503, b"fault\n")


@contextmanager
def files_up_to(size: int) -> Iterator[None]:
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_photograph_that_finds_no_room_is_chosen_again(desk: Client, story: Path) -> None:
    picture = io.BytesIO()
    Image.effect_noise((1200, 900), 90).convert("RGB").save(picture, "JPEG", quality=95)
    vessel = Vessel.objects.order_by("pk")[0]
    photo, files = vessel.photo.name, sorted((story / "photos").rglob("*.jpg"))
    address = reverse("cellar:vessel_photo_set", args=[vessel.pk])
    with files_up_to(100_000):
        answer = desk.post(
            address, {"photo": SimpleUploadedFile("p.jpg", picture.getvalue()), "key": "photo-1"}
        )
    assert_says(answer, faults.FULL)
    assert b'<input type="file" name="photo">' in answer.content
    vessel.refresh_from_db()
    assert vessel.photo.name == photo
    assert set(files) <= set((story / "photos").rglob("*.jpg"))


def test_mistake_of_the_program_is_no_fault(desk: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise KeyError("a mistake")

    monkeypatch.setattr("brewhygiene.board.views.board_of", fail)
    answer = desk.get("/")
    assert answer.status_code == 500
    assert b"<h1>Server error</h1>" in answer.content


# What each driver says


def from_driver(error: Exception) -> DatabaseError:
    """As Django raises it."""
    try:
        try:
            raise error
        except Exception as cause:
            raise OperationalError(str(cause)) from cause
    except OperationalError as wrapped:
        return wrapped


@pytest.mark.parametrize(
    "error, fault",
    [
        (psycopg.errors.DiskFull(), faults.FULL),
        (psycopg.errors.ReadOnlySqlTransaction(), faults.READ_ONLY),
        (psycopg.errors.DataCorrupted(), faults.CORRUPT),
        (psycopg.errors.IndexCorrupted(), faults.CORRUPT),
        (psycopg.errors.LockNotAvailable(), faults.LOCKED),
        (psycopg.errors.DeadlockDetected(), faults.LOCKED),
        (psycopg.errors.AdminShutdown(), faults.GONE),
        (psycopg.errors.TooManyConnections(), faults.GONE),
        (psycopg.errors.ConnectionFailure(), faults.GONE),
        (psycopg.OperationalError("connection refused"), faults.GONE),
        (psycopg.errors.IoError(), faults.UNREADABLE),
        (psycopg.errors.UniqueViolation(), None),
        (psycopg.errors.UndefinedTable(), None),
    ],
)
def test_postgresqls_own_codes_are_known(error: Exception, fault: Fault | None) -> None:
    assert fault_of(from_driver(error)) is fault


@pytest.mark.parametrize(
    "number, fault",
    [
        (errno.ENOSPC, faults.FULL),
        (errno.EDQUOT, faults.FULL),
        (errno.EROFS, faults.READ_ONLY),
        (errno.EACCES, faults.READ_ONLY),
        (errno.EIO, faults.UNREADABLE),
        (errno.ENOENT, None),
    ],
)
def test_the_systems_own_codes_are_known(number: int, fault: Fault | None) -> None:
    assert fault_of(OSError(number, "words")) is fault


def test_no_fault_without_an_exception() -> None:
    assert fault_of(None) is None
    assert fault_of(ValueError("typed")) is None


@pytest.mark.parametrize("fault", [faults.FULL, faults.LOCKED, faults.GONE])
def test_start_says_to_start_again(fault: Fault) -> None:
    assert "send it again" not in fault.do_at_start
    assert "start it again" in fault.do_at_start
