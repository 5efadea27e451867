"""Databases of earlier versions still migrate, and everything in them still works."""

import io
import shutil
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client, override_settings
from django.urls import reverse

from brewhygiene.atp.models.meters import AtpTestLot, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.people.roles import CELLAR, HEAD_BREWER, OWNER
from brewhygiene.quantities.sorting import natural_key
from brewhygiene.turnarounds.models import Turnaround
from tests.databases import instead_of_the_database, load_sql

FOLDERS = sorted(
    path.parent for path in Path(__file__).parents[1].glob("fixtures/databases/*/database.sql")
)
# The day on which the invented people of those databases stopped.
NOW = datetime(2026, 3, 16, 11, 0, tzinfo=UTC)
# By folder: how many entries its ledger had, and the hash of the last.
HEADS = {
    "0003": (113, "f27f40f3ead5956e03c56a978505180889ff2f00e50dc68f2b53e9a27a379816"),
}
ROLES = {CELLAR: "Jonas Feld", HEAD_BREWER: "Mara Oduya", OWNER: "Tomas Brandt"}


def rows_by_table() -> dict[str, int]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT name FROM sqlite_master WHERE name LIKE 'brewhygiene_%'")
        tables = [name for (name,) in cursor.fetchall() if "." not in name]
        found = {}
        for table in tables:
            cursor.execute(
                "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = %s", [table]
            )
            if cursor.fetchone():
                cursor.execute(f"SELECT COUNT(*) FROM {connection.ops.quote_name(table)}")  # noqa: S608
                found[table] = cursor.fetchone()[0]
    return found


class Migrated:
    """One of them, after migrating."""

    def __init__(self, folder: Path, rows_before: int) -> None:
        self.name = folder.name
        self.rows_before = rows_before


@pytest.fixture(scope="session", params=FOLDERS, ids=lambda folder: folder.name)
def migrated_once(
    request: pytest.FixtureRequest,
    tmp_path_factory: pytest.TempPathFactory,
    django_db_blocker: Any,
) -> tuple[Path, Migrated]:
    """A folder with one of them, migrated; every test gets a copy."""
    folder: Path = request.param
    copied = tmp_path_factory.mktemp("old") / folder.name
    shutil.copytree(folder, copied)
    path = load_sql(folder / "database.sql", copied / "brewhygiene.sqlite3")
    with (
        override_settings(MEDIA_ROOT=copied / "photos"),
        pytest.MonkeyPatch.context() as patch,
        instead_of_the_database(path, django_db_blocker),
    ):
        patch.setattr("django.utils.timezone.now", lambda: NOW)
        before = sum(rows_by_table().values())
        call_command("migrate", interactive=False, verbosity=0)
    return copied, Migrated(folder, before)


@pytest.fixture
def migrated(
    migrated_once: tuple[Path, Migrated],
    tmp_path: Path,
    settings: Any,
    monkeypatch: pytest.MonkeyPatch,
    django_db_blocker: Any,
) -> Iterator[Migrated]:
    copied, what = migrated_once
    shutil.copytree(copied, tmp_path, dirs_exist_ok=True)
    settings.MEDIA_ROOT = tmp_path / "photos"
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    with instead_of_the_database(tmp_path / "brewhygiene.sqlite3", django_db_blocker):
        yield what


def test_there_is_one_and_its_head_is_known() -> None:
    assert [folder.name for folder in FOLDERS] == list(HEADS)


def test_nothing_is_lost_and_the_ledger_is_whole(migrated: Migrated) -> None:
    count, head = HEADS[migrated.name]
    assert sum(rows_by_table().values()) >= migrated.rows_before
    assert Entry.objects.order_by("id")[count - 1].hash == head
    said = io.StringIO()
    call_command("check_ledger", stdout=said)
    assert said.getvalue().startswith("The ledger is consistent in itself: ")


def test_earlier_rows_are_bound_once_and_it_is_said(migrated: Migrated) -> None:
    count, _ = HEADS[migrated.name]
    adopting = Entry.objects.filter(number__gt=count)
    assert set(adopting.values_list("verb", "format")) == {("bind earlier rows", 2)}
    assert set(Entry.objects.filter(number__lte=count).values_list("format", flat=True)) == {1}
    assert {entry.values["why"] for entry in adopting} == {
        "No entry bound these rows before. Each is bound as it stood at this moment."
    }
    before = Entry.objects.count()
    call_command("migrate", interactive=False, verbosity=0)
    assert Entry.objects.count() == before


def test_every_name_has_the_key_that_it_is_sorted_by(migrated: Migrated) -> None:
    named = [*Vessel.objects.all(), *Meter.objects.all()]
    assert [one.sort_key for one in named] == [natural_key(one.name) for one in named]
    lots = AtpTestLot.objects.all()
    assert [one.sort_key for one in lots] == [natural_key(one.lot) for one in lots]
    assert named
    assert lots


def test_what_a_brewery_had_set_stays_and_is_said_to_be_looser_than_shipped(
    migrated: Migrated,
) -> None:
    brewery = Brewery.objects.get()
    assert brewery.self_release_allowed is True
    assert Brewery().self_release_allowed is False
    owner = User.objects.get(full_name=ROLES[OWNER])
    client = Client()
    client.force_login(owner)
    words = "Looser than shipped: self-release is allowed."
    for page in ("setup:index", "setup:release_rules"):
        assert words in client.get(reverse(page)).content.decode()


def addresses() -> list[str]:
    first, second, third = Turnaround.objects.order_by("pk")
    vessel = Vessel.objects.order_by("pk").first()
    point = SamplingPoint.objects.order_by("pk").first()
    assert vessel is not None
    assert point is not None
    return [
        reverse("board:board"),
        reverse("board:vessel", args=[vessel.pk]),
        reverse("cellar:vessel_photo", args=[vessel.pk]),
        *(reverse("board:turnaround", args=[one.pk]) for one in (first, second, third)),
        reverse("reports:record", args=[first.pk]),
        reverse("turnarounds:clean", args=[second.cleans.get().pk]),
        reverse("turnarounds:logger_file", args=[second.cleans.get().logger_files.get().pk]),
        reverse("atp:samples", args=[second.pk]),
        reverse("release:queue"),
        reverse("plates:due"),
        reverse("trends:overview"),
        reverse("trends:signals"),
        reverse("trends:vessel", args=[vessel.pk]),
        reverse("trends:point", args=[point.pk]),
        reverse("setup:index"),
    ]


@pytest.mark.parametrize("role", ROLES)
def test_the_main_pages_open_for_every_role(migrated: Migrated, role: str) -> None:
    client = Client()
    client.force_login(User.objects.get(full_name=ROLES[role], groups__name=role))
    codes = {}
    for address in addresses():
        with closing(client.get(address)) as answer:
            codes[address] = answer.status_code
    signals = reverse("trends:signals")
    assert codes == {
        **dict.fromkeys(codes, 200),
        signals: 403 if role == CELLAR else 200,
    }


def test_a_new_reading_is_recorded_through_the_page(migrated: Migrated) -> None:
    count, _ = HEADS[migrated.name]
    turnaround = Turnaround.objects.order_by("pk")[1]
    point = turnaround.vessel.points.get(name="Cone, last rinse")
    lot = AtpTestLot.objects.get(atp_test__sample_kind=point.sample_kind)
    client = Client()
    client.force_login(User.objects.get(full_name="Jonas Feld"))
    answer = client.post(
        reverse("atp:sample", args=[turnaround.pk, point.pk]),
        {
            "meter": Meter.objects.order_by("pk")[0].pk,
            "test_lot": lot.pk,
            "rinse_end": "sanitiser_left",
            "rlu": "7",
        },
    )
    assert answer.status_code == 302
    result = Result.objects.order_by("-pk")[0]
    assert (result.rlu, result.verdict, result.point) == (7, "clear", point)
    assert Entry.objects.count() >= count + 1
    call_command("check_ledger", stdout=io.StringIO())
