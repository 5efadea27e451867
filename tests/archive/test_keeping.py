"""Names of archives, which are kept by age, and how the newest is found."""

import os
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from brewhygiene.archive.keeping import (
    Kept,
    Newest,
    archives_in,
    name_for,
    to_remove,
)

MINE, OTHER = "4f2a9c01" + "0" * 24, "77777777" + "0" * 24
NIGHT = datetime(2026, 3, 16, 3, 15, tzinfo=UTC)
DAY = timedelta(days=1)


def put(folder: Path, made_at: datetime, *, installation: str = MINE, sealed: bool = False) -> Path:
    path = folder / name_for(installation, made_at, sealed=sealed)
    path.write_bytes(b"")
    return path


def kept(made_at: datetime) -> Kept:
    return Kept(Path(name_for(MINE, made_at, sealed=False)), MINE[:8], made_at)


def test_name_tells_whose_it_is_and_when() -> None:
    assert name_for(MINE, NIGHT, sealed=False) == "brewhygiene-4f2a9c01-20260316T031500Z.zip"
    local = NIGHT.astimezone(tz=None)
    assert name_for(MINE, local, sealed=True) == "brewhygiene-4f2a9c01-20260316T031500Z.zip.sealed"


def test_folder_lists_archives_only_oldest_first(tmp_path: Path) -> None:
    newer, older = put(tmp_path, NIGHT, sealed=True), put(tmp_path, NIGHT - DAY)
    other = put(tmp_path, NIGHT + DAY, installation=OTHER)
    for name in (
        "notes.zip",
        "brewhygiene-4f2a9c01-20260316T031500Z.zip.unfinished",
        "brewhygiene-4f2a9c01-20269916T031500Z.zip",
        "brewhygiene-4F2A9C01-20260316T031500Z.zip",
    ):
        (tmp_path / name).write_bytes(b"")
    assert [one.path for one in archives_in(tmp_path)] == [older, newer, other]
    assert [one.path for one in archives_in(tmp_path, installation=MINE)] == [older, newer]
    assert archives_in(tmp_path)[0].made_at == NIGHT - DAY
    assert archives_in(tmp_path / "missing") == []
    assert archives_in(newer) == []


def test_three_years_of_nights_leave_days_weeks_and_months() -> None:
    """Let go each night, as the server does."""
    there: list[Kept] = []
    for night in range(3 * 365):
        there.append(kept(NIGHT + night * DAY))
        gone = {one.path for one in to_remove(there)}
        there = [one for one in there if one.path not in gone]
    last = NIGHT + (3 * 365 - 1) * DAY
    ages = [(last - one.made_at).days for one in there]
    assert last == datetime(2029, 3, 14, 3, 15, tzinfo=UTC)
    assert ages[-14:] == list(range(13, -1, -1))
    # Sundays: the newest of each week; and the last night of each month before.
    weeks = [one.made_at for one in there if 13 < (last - one.made_at).days < 56]
    assert Counter(moment.strftime("%a") for moment in weeks)["Sun"] == 5
    months = sorted({(one.made_at.year, one.made_at.month) for one in there})
    assert months[0] == (2027, 4)
    assert len(months) == 24
    assert len(there) == 14 + 5 + 23


def test_a_rare_backup_is_kept_however_old_the_newest_is() -> None:
    yearly = [kept(NIGHT + timedelta(days=400 * number)) for number in range(3)]
    assert to_remove(yearly) == []


def test_of_one_day_the_newest_stays() -> None:
    morning, noon, night = (kept(NIGHT + timedelta(hours=hours)) for hours in (0, 9, 18))
    assert to_remove([noon, night, morning]) == [morning, noon]


@pytest.mark.parametrize("nights, gone", [(14, []), (15, ["2026-03-18"])])
def test_the_fifteenth_day_goes(nights: int, gone: list[str]) -> None:
    """It was a Wednesday: of its week and its month there is a newer one."""
    last = datetime(2026, 4, 1, 3, tzinfo=UTC)
    removed = to_remove([kept(last - number * DAY) for number in range(nights)])
    assert [f"{one.made_at:%Y-%m-%d}" for one in removed] == gone


def test_newest_is_looked_up_again_only_when_the_folder_changed(tmp_path: Path) -> None:
    newest = Newest()
    assert newest.made_at(tmp_path / "missing") is None
    assert newest.made_at(tmp_path) is None
    put(tmp_path, NIGHT)
    stamp = tmp_path.stat()
    os.utime(tmp_path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns + 1))
    assert newest.made_at(tmp_path, installation=MINE) == NIGHT
    changed = tmp_path.stat().st_mtime_ns
    put(tmp_path, NIGHT + DAY)
    os.utime(tmp_path, ns=(changed, changed))
    assert newest.made_at(tmp_path, installation=MINE) == NIGHT
    os.utime(tmp_path, ns=(changed, changed + 1))
    assert newest.made_at(tmp_path, installation=MINE) == NIGHT + DAY
    assert newest.made_at(tmp_path, installation=OTHER) is None
