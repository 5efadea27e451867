"""Old periods as archives: verified, hashed into the ledger, and nothing deleted."""

import hashlib
import io
import json
import subprocess
import sys
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from brewhygiene.ledger.check.whole import check_everything
from brewhygiene.ledger.models import Binding, Entry
from brewhygiene.ledger.sealing import CannotSeal, seal, verified
from tests.evidence import unguarded
from tests.factories import NOW, Cellar

pytestmark = pytest.mark.django_db

AFTER = NOW + timedelta(days=1)


def test_sealed_period_is_read_by_a_tool_of_the_languages_own(
    cellar: Cellar, tmp_path: Path
) -> None:
    cellar.recovery_recorded()
    cellar.released()
    count, rows = Entry.objects.count(), Binding.objects.count()
    path = seal(until=AFTER, folder=tmp_path, now=AFTER)
    assert path.name == f"ledger-{1:09d}-{count:09d}.zip"
    listed = subprocess.run(
        [sys.executable, "-m", "zipfile", "-t", path], capture_output=True, text=True, check=True
    )
    assert listed.stdout == "Done testing\n"
    with zipfile.ZipFile(path) as archive:
        entries = [json.loads(line) for line in archive.read("entries.jsonl").splitlines()]
        assert len(archive.read("bindings.jsonl").splitlines()) == rows
    assert [entry["number"] for entry in entries] == list(range(1, count + 1))
    assert [entry["hash"] for entry in entries] == list(
        Entry.objects.filter(number__lte=count).order_by("number").values_list("hash", flat=True)
    )


def test_hash_of_the_archive_stands_in_the_ledger_which_keeps_everything(
    cellar: Cellar, tmp_path: Path
) -> None:
    cellar.recovery_recorded()
    cellar.released()
    count, rows = Entry.objects.count(), Binding.objects.count()
    path = seal(until=AFTER, folder=tmp_path, now=AFTER)
    entry = Entry.objects.latest("number")
    assert (entry.verb, entry.values["archive"], entry.values["sha256"]) == (
        "seal period",
        path.name,
        hashlib.sha256(path.read_bytes()).hexdigest(),
    )
    assert (Entry.objects.count(), Binding.objects.count()) == (count + 1, rows)
    assert list(check_everything()) == []


def test_next_period_begins_where_the_last_ended(cellar: Cellar, tmp_path: Path) -> None:
    cellar.released()
    first = verified(seal(until=AFTER, folder=tmp_path, now=AFTER))
    second = verified(
        seal(until=AFTER + timedelta(days=2), folder=tmp_path, now=AFTER + timedelta(days=3))
    )
    assert second["first"] == first["last"] + 1


def test_period_without_an_entry_is_refused(cellar: Cellar, tmp_path: Path) -> None:
    with pytest.raises(CannotSeal, match="No entry before 2020-01-01 is left to seal"):
        seal(until=datetime(2020, 1, 1, tzinfo=UTC), folder=tmp_path, now=NOW)
    assert list(tmp_path.iterdir()) == []


def test_ledger_that_does_not_hold_is_not_sealed(cellar: Cellar, tmp_path: Path) -> None:
    with unguarded(Entry), connection.cursor() as cursor:
        cursor.execute("UPDATE brewhygiene_entry SET address = 'x' WHERE number = 1")
    with pytest.raises(CannotSeal, match="A ledger that does not hold is not sealed"):
        seal(until=AFTER, folder=tmp_path, now=AFTER)
    assert list(tmp_path.iterdir()) == []


def test_changed_or_cut_archive_is_found_out(cellar: Cellar, tmp_path: Path) -> None:
    path = seal(until=AFTER, folder=tmp_path, now=AFTER)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(CannotSeal, match="cannot be read as a sealed period"):
        verified(path)
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "entries.jsonl":
                content = content.replace(b"192.0.2.7", b"192.0.2.8")
            new.writestr(name, content)
    with pytest.raises(CannotSeal, match=r"entries\.jsonl in .* is not what was sealed"):
        verified(path)


def test_folder_that_cannot_be_written_is_said(cellar: Cellar, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(CannotSeal, match="cannot be written"):
        seal(until=AFTER, folder=tmp_path / "file", now=AFTER)


@pytest.mark.parametrize("day", ["yesterday", "0000-00-00", "2025-13-01"])
def test_command_says_what_it_cannot_read(cellar: Cellar, tmp_path: Path, day: str) -> None:
    with pytest.raises(CommandError, match="is no day"):
        call_command("seal_ledger", day, str(tmp_path))


def test_command_seals(cellar: Cellar, tmp_path: Path) -> None:
    out = io.StringIO()
    call_command("seal_ledger", "2026-03-11", str(tmp_path), stdout=out)
    (path,) = tmp_path.glob("ledger-*.zip")
    assert out.getvalue() == f"Sealed into {path}. Its hash stands in the ledger.\n"
