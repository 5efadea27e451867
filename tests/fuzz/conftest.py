"""A database in which every table has rows, and one person of each role."""

import shutil
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client, override_settings

from brewhygiene.people.models import User
from tests import clock
from tests.databases import instead_of_the_database, load_sql
from tests.factories import make_user
from tests.fuzz.roles import ROLES

STORY = Path(__file__).parents[2] / "fixtures" / "databases" / "0003"


@pytest.fixture(scope="session")
def story_rows(tmp_path_factory: pytest.TempPathFactory, django_db_blocker: Any) -> Path:
    """The invented brewery of an earlier version, migrated, as rows for any database."""
    folder = tmp_path_factory.mktemp("story")
    # As XML, which keeps the last three digits of a moment.
    rows = folder / "rows.xml"
    with (
        clock.standing_at(clock.USUAL),
        # Its rows are bound to their files as they are then.
        override_settings(MEDIA_ROOT=STORY / "photos"),
        instead_of_the_database(
            load_sql(STORY / "database.sql", folder / "story.sqlite3"), django_db_blocker
        ),
    ):
        call_command("migrate", interactive=False, verbosity=0)
        call_command(
            "dumpdata",
            "--all",
            "--format=xml",
            "--natural-foreign",  # permissions are numbered otherwise in each database
            exclude=["contenttypes", "auth.permission", "sessions", "axes", "admin"],
            output=str(rows),
            verbosity=0,
        )
    return rows


@pytest.fixture
def story(story_rows: Path, db: None, settings: Any, tmp_path: Path) -> None:
    shutil.copytree(STORY, tmp_path / "files")
    settings.MEDIA_ROOT = tmp_path / "files" / "photos"
    call_command("loaddata", str(story_rows), verbosity=0)


@pytest.fixture
def people(story: None) -> dict[str, User]:
    """One person of each role, and one without any."""
    return {name: make_user(*groups, username=f"fuzz-{name}") for name, groups in ROLES.items()}


@pytest.fixture
def clients(people: dict[str, User]) -> dict[str, Client]:
    """A browser each, and one where nobody is signed in."""
    found = {"signed out": Client()}
    for name, user in people.items():
        found[name] = Client()
        found[name].force_login(user)
    return found
