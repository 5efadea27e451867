"""The command that walks the ledger."""

import io

import pytest
from django.core.management import call_command
from django.db import connection

from brewhygiene.ledger.models import Binding, Entry
from tests.evidence import unguarded
from tests.factories import Cellar

pytestmark = pytest.mark.django_db


def checked(*args: str) -> tuple[int, str, str]:
    """Exit code, what was said, and what was complained of."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    try:
        call_command("check_ledger", *args, stdout=out, stderr=err)
    except SystemExit as stop:
        code = int(stop.code or 0)
    return code, out.getvalue(), err.getvalue()


def tamper(entry: Entry, assignment: str) -> None:
    """As somebody with the database's own password would do it."""
    with unguarded(Entry), connection.cursor() as cursor:
        cursor.execute(f"UPDATE brewhygiene_entry SET {assignment} WHERE id = %s", [entry.pk])  # noqa: S608


def consistent(entries: int, rows: int) -> str:
    """What is said of a ledger that nothing is wrong with, and no head is known of."""
    return (
        f"The ledger is consistent in itself: {entries} entries, {rows} rows. Only a head that was "
        "kept outside can show that its end was not cut off or rewritten (--since HEAD).\n"
    )


def test_empty_ledger_is_consistent() -> None:
    assert checked() == (0, consistent(0, 0), "")


def test_untouched_ledger_is_consistent(cellar: Cellar) -> None:
    cellar.recovery_recorded()
    cellar.released()
    rows = len(set(Binding.objects.values_list("table", "row")))
    assert checked() == (0, consistent(Entry.objects.count(), rows), "")


@pytest.mark.parametrize(
    "assignment",
    [
        "user_id = NULL",
        "subject_label = 'FV 9'",
        "recorded_at = '2020-01-01 00:00:00+00:00'",
        "verb = 'nothing'",
        "address = '198.51.100.9'",
    ],
)
def test_changed_entry_is_found_and_named(cellar: Cellar, assignment: str) -> None:
    cellar.released()
    entry = Entry.objects.get(verb="record result")
    tamper(entry, assignment)
    entry.refresh_from_db()
    code, said, complained = checked()
    assert (code, said) == (1, "")
    assert complained.startswith(
        f"changed: The content of entry {entry.number}: {entry.verb}, {entry.subject_label}, "
    )


def test_name_written_into_an_entry_is_found(cellar: Cellar) -> None:
    cellar.released()
    entry = Entry.objects.get(verb="record result")
    tamper(entry, "user_name = 'Somebody else'")
    code, _, complained = checked()
    assert code == 1
    assert complained.startswith("forged: A name that no hash covers stands in entry ")


def test_entry_taken_out_is_named_and_breaks_the_one_after_it(cellar: Cellar) -> None:
    cellar.released()
    entry = Entry.objects.get(verb="record result")
    following = Entry.objects.get(number=entry.number + 1)
    with unguarded(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM brewhygiene_binding WHERE entry_id = %s", [entry.pk])
        cursor.execute("DELETE FROM brewhygiene_entry WHERE id = %s", [entry.pk])
    code, _, complained = checked()
    assert code == 1
    assert complained.splitlines()[:2] == [
        f"missing: Entry {entry.number} is gone.",
        (
            f"forged: Entry {following.number} does not follow from the one before it: "
            f"{following.verb}, {following.subject_label}."
        ),
    ]
