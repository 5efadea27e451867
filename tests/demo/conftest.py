"""The invented brewery, filled in once at an awkward hour: the night the clocks go back."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction

from brewhygiene.demo.seeding import seed

# 02:30 comes twice that night; this is the second time.
NOW = datetime(2026, 10, 25, 2, 30, tzinfo=ZoneInfo("Europe/Copenhagen"), fold=1)


@pytest.fixture(scope="package")
def said(django_db_setup: None, django_db_blocker: Any) -> Iterator[list[str]]:
    """The brewery is there while the package's tests run; and what was said while it was made."""
    lines: list[str] = []
    with django_db_blocker.unblock(), transaction.atomic():
        seed(now=NOW, say=lines.append)
        yield lines
        transaction.set_rollback(True)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Say of the tests that look at the brewery that they need a database.

    Said only here, after all are in order: those that need an empty one have to come first.
    """
    for item in items:
        if "said" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.django_db)
