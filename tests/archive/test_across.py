"""From one database to the other and back: how a brewery moves from SQLite to PostgreSQL.

The PostgreSQL part is there where the tests run on one (`make test-postgres`).
"""

import copy
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.contrib.contenttypes.models import ContentType
from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.utils import load_backend

from brewhygiene.archive.faults import PlaceInUse
from brewhygiene.archive.restoring import restore_archive
from brewhygiene.archive.writing import Made, make_archive
from brewhygiene.cellar.models import Beer
from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import check_chain
from tests.archive.conftest import ENTRIES, HEAD, NOW, Places, everything_in

ON_POSTGRES = connections.settings[DEFAULT_DB_ALIAS]["ENGINE"].endswith("postgresql")


class Postgres:
    """A PostgreSQL database of its own, made empty and thrown away."""

    def __init__(self, places: Places, name: str) -> None:
        self.places, self.name = places, name
        self.settings = connections[DEFAULT_DB_ALIAS].settings_dict

    @contextmanager
    def at(self, folder: Path) -> Iterator[Path]:
        settings = copy.deepcopy(self.settings) | {"NAME": self.name, "CONN_MAX_AGE": 0}
        wrapper = load_backend(settings["ENGINE"]).DatabaseWrapper(settings, DEFAULT_DB_ALIAS)
        with self.places.at(folder):
            inner = connections[DEFAULT_DB_ALIAS]
            connections[DEFAULT_DB_ALIAS] = wrapper
            ContentType.objects.clear_cache()
            try:
                yield folder
            finally:
                wrapper.close()
                connections[DEFAULT_DB_ALIAS] = inner


@contextmanager
def maintenance(places: Places) -> Iterator[object]:
    settings = copy.deepcopy(connections[DEFAULT_DB_ALIAS].settings_dict) | {"NAME": "postgres"}
    wrapper = load_backend(settings["ENGINE"]).DatabaseWrapper(settings, "maintenance")
    with places.blocker.unblock():
        try:
            with wrapper.cursor() as cursor:
                yield cursor
        finally:
            wrapper.close()


def same_rows(one: Made, other: Made) -> bool:
    """By table, count and last id; JSON columns come in another order of their keys."""
    return [(m.table, m.rows, m.last_id) for m in one.manifest.tables] == [
        (m.table, m.rows, m.last_id) for m in other.manifest.tables
    ]


if ON_POSTGRES:

    @pytest.fixture
    def postgres(places: Places) -> Iterator[Postgres]:
        name = "archive_across"
        with maintenance(places) as cursor:
            cursor.execute(f"DROP DATABASE IF EXISTS {name}")  # type: ignore[attr-defined]
            cursor.execute(f"CREATE DATABASE {name}")  # type: ignore[attr-defined]
        yield Postgres(places, name)
        with maintenance(places) as cursor:
            cursor.execute(f"DROP DATABASE {name}")  # type: ignore[attr-defined]

    @pytest.mark.own_tables
    def test_to_postgresql_and_back(
        archive: Made, postgres: Postgres, places: Places, tmp_path: Path
    ) -> None:
        with postgres.at(tmp_path / "moved") as folder:
            restore_archive(archive.path)
            assert connection.vendor == "postgresql"
            assert Entry.objects.order_by("id")[ENTRIES - 1].hash == HEAD
            assert check_chain() is None
            there = make_archive(now=NOW)
            assert same_rows(archive, there)
            # Ids go on after the last that was ever given.
            last = max(m.last_id for m in archive.manifest.tables if m.table.endswith("_beer"))
            assert Beer.objects.create(name="New beer").pk == last + 1
            before = everything_in(folder)
        with postgres.at(tmp_path / "another"), pytest.raises(PlaceInUse, match="is in use"):
            restore_archive(archive.path)
        assert everything_in(folder) == before
        with places.at(tmp_path / "back"):
            restore_archive(there.path)
            assert connection.vendor == "sqlite"
            assert Entry.objects.order_by("id")[ENTRIES - 1].hash == HEAD
            assert check_chain() is None
            assert same_rows(make_archive(now=NOW), there)

    class PowerCut(BaseException):
        """Nothing catches it by mistake."""

    @pytest.mark.own_tables
    def test_failure_on_the_way_leaves_no_table(
        archive: Made, postgres: Postgres, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def fail(*_: object, **__: object) -> None:
            raise PowerCut

        with monkeypatch.context() as patched, postgres.at(tmp_path / "moved") as folder:
            patched.setattr("brewhygiene.archive.restoring._refuse_other_ledger", fail)
            with pytest.raises(PowerCut):
                restore_archive(archive.path)
            assert not folder.exists()
            assert connection.introspection.table_names() == []

else:

    def test_from_sqlite_to_sqlite_every_row_is_the_same(archive: Made, empty: Path) -> None:
        restore_archive(archive.path)
        again = make_archive(now=NOW)
        assert same_rows(archive, again)
        assert Beer.objects.create(name="New beer").pk == 1 + max(
            m.last_id for m in archive.manifest.tables if m.table.endswith("_beer")
        )
