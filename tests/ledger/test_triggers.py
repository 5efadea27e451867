"""The database refuses to change evidence, whoever asks, and after every migration."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import DatabaseError, connection, models, transaction

from brewhygiene.atp.models.readings import Result
from brewhygiene.ledger import triggers
from brewhygiene.ledger.models import Binding, Entry
from brewhygiene.turnarounds.models import Clean, Turnaround
from tests.factories import NOW, Cellar

pytestmark = pytest.mark.django_db


def refused(statement: str) -> str:
    """What the database says to a statement that it must not carry out."""
    with (
        pytest.raises(DatabaseError) as said,
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement)
    return str(said.value).splitlines()[0]


@pytest.mark.parametrize(
    "statement, table",
    [
        ("UPDATE brewhygiene_result SET rlu = 9", "brewhygiene_result"),
        ("DELETE FROM brewhygiene_result", "brewhygiene_result"),
        ("UPDATE brewhygiene_entry SET verb = 'x'", "brewhygiene_entry"),
        ("DELETE FROM brewhygiene_binding", "brewhygiene_binding"),
        ("UPDATE brewhygiene_limitset SET action_rlu = 300", "brewhygiene_limitset"),
        # Once approved, twice never.
        (
            "UPDATE brewhygiene_limitset SET approved_at = '2026-03-01 00:00:00+00:00'",
            "brewhygiene_limitset",
        ),
        ("UPDATE brewhygiene_clean SET finished_at = NULL", "brewhygiene_clean"),
        ("UPDATE brewhygiene_signature SET printed_name = 'x'", "brewhygiene_signature"),
    ],
)
def test_evidence_is_refused_to_change(statement: str, table: str) -> None:
    Cellar().released()
    said = refused(statement)
    assert said.endswith(f"{table}: evidence is appended, never changed")


def test_whole_table_is_refused_to_be_emptied_on_postgresql() -> None:
    if connection.vendor != "postgresql":
        names = [name for name in triggers.standing() if name.endswith("_truncate")]
        assert names == []  # SQLite knows no TRUNCATE
        return
    said = refused("TRUNCATE brewhygiene_result CASCADE")
    assert said.endswith("evidence is appended, never changed")


def test_end_is_written_once() -> None:
    """From nothing to a value, and not from one value to another."""
    cellar = Cellar()
    clean = cellar.started(cellar.emptied())
    assert Clean.objects.filter(pk=clean.pk).update(stopped_at=NOW, stop_reason="Pump") == 1
    with pytest.raises(DatabaseError), transaction.atomic():
        Clean.objects.filter(pk=clean.pk).update(stopped_at=NOW + timedelta(minutes=1))
    with pytest.raises(DatabaseError), transaction.atomic():
        Clean.objects.filter(pk=clean.pk).update(stop_reason="")


def test_what_may_change_does() -> None:
    cellar = Cellar()
    turnaround = cellar.emptied()
    assert Turnaround.objects.filter(pk=turnaround.pk).update(revision=7) == 1


def test_flush_is_refused() -> None:
    """The command that empties a database does not empty a ledger."""
    Cellar().released()
    counts = (Entry.objects.count(), Binding.objects.count(), Result.objects.count())
    assert all(counts)
    connection.check_constraints()  # what is deferred, or PostgreSQL refuses for that reason
    first = connection.ops.sql_flush(no_style(), [Entry._meta.db_table], allow_cascade=True)[0]
    assert refused(first).endswith("evidence is appended, never changed")
    assert (Entry.objects.count(), Binding.objects.count(), Result.objects.count()) == counts


@pytest.mark.django_db(transaction=True)
def test_triggers_stand_after_each_migration() -> None:
    """A table that SQLite builds anew comes without its triggers: they are put back."""
    call_command("migrate", "brewhygiene", "0003", verbosity=0)
    try:
        assert triggers.standing() == {}
    finally:
        call_command("migrate", verbosity=0)
    assert triggers.missing() == []
    assert len(triggers.standing()) == len({trigger.name for trigger in triggers.wanted()})
    for new, old in ((_longer(), Result._meta.get_field("note")), (None, _longer())):
        if connection.vendor == "postgresql":
            triggers.remove()  # as before every migration: it alters no column that they name
        with connection.schema_editor() as editor:
            editor.alter_field(Result, old, new or Result._meta.get_field("note"))
        assert triggers.missing() != []
        call_command("migrate", verbosity=0)
        assert triggers.missing() == []


def _longer() -> "models.CharField":
    field = models.CharField(max_length=300, blank=True)
    field.set_attributes_from_name("note")
    field.model = Result
    return field
