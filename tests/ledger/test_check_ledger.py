"""The command that walks the ledger."""

import io

import pytest
from django.core.management import call_command
from django.db import connection

from brewhygiene.ledger.models import Entry
from tests.factories import Cellar

pytestmark = pytest.mark.django_db


def checked() -> tuple[int, str, str]:
    """Exit code, what was said, and what was complained of."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    try:
        call_command("check_ledger", stdout=out, stderr=err)
    except SystemExit as stop:
        code = int(stop.code or 0)
    return code, out.getvalue(), err.getvalue()


def tamper(entry: Entry, assignment: str) -> None:
    """As somebody with the database's own password would do it."""
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE brewhygiene_entry SET {assignment} WHERE id = %s", [entry.pk])  # noqa: S608


def test_empty_ledger_is_whole() -> None:
    assert checked() == (0, "The ledger is unchanged: 0 entries.\n", "")


def test_untouched_ledger_is_whole() -> None:
    Cellar().released()
    count = Entry.objects.count()
    assert checked() == (0, f"The ledger is unchanged: {count} entries.\n", "")


@pytest.mark.parametrize(
    "assignment",
    [
        "user_name = 'Somebody else'",
        "subject_label = 'FV 9'",
        "recorded_at = '2020-01-01 00:00:00+00:00'",
        "verb = 'nothing'",
        "address = '198.51.100.9'",
    ],
)
def test_changed_entry_is_found_and_named(assignment: str) -> None:
    Cellar().released()
    entry = Entry.objects.get(verb="record result")
    tamper(entry, assignment)
    code, said, complained = checked()
    assert (code, said) == (1, "")
    assert complained.startswith(f"Broken at entry {entry.pk}: ")


def test_entry_taken_out_breaks_the_one_after_it() -> None:
    Cellar().released()
    entry = Entry.objects.get(verb="record result")
    following = Entry.objects.filter(pk__gt=entry.pk).earliest("pk")
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM brewhygiene_entry WHERE id = %s", [entry.pk])
    code, _, complained = checked()
    assert code == 1
    assert complained.startswith(f"Broken at entry {following.pk}: ")
