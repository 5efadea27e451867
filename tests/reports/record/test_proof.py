"""A record never says that it matches the ledger where it does not."""

import pytest
from django.db import connection

from brewhygiene.ledger.adoption import bind_unbound
from tests.evidence import unguarded
from tests.factories import NOW, Cellar
from tests.reports.record.test_record import words

pytestmark = pytest.mark.django_db

MATCHES = "match the hashes that"
DOES_NOT = "Checked when printed: this record does not match the ledger."


@pytest.fixture
def cellar() -> Cellar:
    made = Cellar()
    bind_unbound(now=NOW)
    made.recovery_recorded()
    return made


def test_untouched_record_says_how_much_matches(cellar: Cellar) -> None:
    text = words(cellar.released())
    assert (text.count(MATCHES), text.count(DOES_NOT)) == (1, 0)
    assert "recorded before entries bound rows" in text  # what the factories wrote by themselves


@pytest.mark.parametrize(
    "statement, named",
    [
        ("UPDATE brewhygiene_signature SET printed_name = 'Somebody'", "brewhygiene_signature"),
        ("UPDATE brewhygiene_result SET rlu = 9", "brewhygiene_result"),
        ("UPDATE brewhygiene_limitset SET action_rlu = action_rlu * 10", "brewhygiene_limitset"),
        ("UPDATE brewhygiene_user SET full_name = 'Somebody'", "brewhygiene_user"),
        ("UPDATE brewhygiene_stepreading SET value = value + 1", "brewhygiene_stepreading"),
        ("UPDATE brewhygiene_decision SET reason = 'another'", "brewhygiene_decision"),
        ("UPDATE brewhygiene_vessel SET name = 'another'", "brewhygiene_vessel"),
        ("UPDATE brewhygiene_controlcheck SET positive_rlu = 210", "brewhygiene_controlcheck"),
        ("DELETE FROM brewhygiene_safetyacknowledgement", "brewhygiene_safetyacknowledgement"),
    ],
)
def test_record_names_what_was_changed(cellar: Cellar, statement: str, named: str) -> None:
    turnaround = cellar.released()
    with unguarded(), connection.cursor() as cursor:
        cursor.execute(statement)
    text = words(turnaround)
    assert (text.count(MATCHES), text.count(DOES_NOT)) == (0, 1)
    assert f"of {named} is" in text


def test_reading_without_an_entry_is_named(cellar: Cellar) -> None:
    turnaround = cellar.released()
    result = turnaround.results.get()
    result.pk, result.rlu = None, 1
    result.save()
    text = words(turnaround)
    assert (text.count(MATCHES), text.count(DOES_NOT)) == (0, 1)
    assert f"added: Row {result.pk} of brewhygiene_result was added without an entry." in text
