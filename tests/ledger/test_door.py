"""The one door: one transaction, one entry, once per key, and a chain that shows an edit."""

from datetime import timedelta

import pytest
from django.db import connection

from brewhygiene.cellar.models import Emptying
from brewhygiene.ledger.models import Entry, LedgerIsAppendOnly
from brewhygiene.ledger.recording import check_chain, record_hash
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import empty_vessel
from brewhygiene.turnarounds.models import Turnaround
from tests.evidence import unguarded
from tests.factories import NOW, Cellar, acting

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def empty(cellar: Cellar, *, key: str | None = None, user=None, **values) -> Turnaround:
    return empty_vessel(
        by=acting(user or cellar.hand, key=key),
        vessel=cellar.vessel,
        **{"emptied_at": NOW, "beer": cellar.pale, **values},
    )


def test_verb_leaves_one_entry_with_who_when_what_and_where(cellar: Cellar) -> None:
    before = Entry.objects.count()
    turnaround = empty(cellar, note="Cone dumped twice")
    assert Entry.objects.count() == before + 1
    entry = Entry.objects.latest("pk")
    assert (
        entry.user,
        entry.who,
        entry.recorded_at,
        entry.verb,
        entry.subject_type,
        entry.subject_id,
        entry.aggregate,
        entry.address,
        entry.values["note"],
    ) == (
        cellar.hand,
        "Jonas Feld",
        NOW,
        "empty vessel",
        "turnaround",
        turnaround.pk,
        f"turnaround:{turnaround.pk}",
        "192.0.2.7",
        "Cone dumped twice",
    )


def test_refused_verb_leaves_nothing(cellar: Cellar) -> None:
    before = Entry.objects.count()
    with pytest.raises(Refusal):
        empty(cellar, emptied_at=NOW + timedelta(days=2))
    assert (Entry.objects.count(), Emptying.objects.count()) == (before, 0)


def test_same_key_writes_once_and_gives_the_same_record(cellar: Cellar) -> None:
    assert empty(cellar, key="k1") == empty(cellar, key="k1")
    assert Emptying.objects.count() == 1


def test_key_of_another_person_is_refused(cellar: Cellar) -> None:
    empty(cellar, key="k1")
    with pytest.raises(Refusal) as refused:
        empty(cellar, key="k1", user=cellar.brewer)
    assert refused.value.code == "key_reused"


def test_refused_verb_may_be_sent_again_with_its_key(cellar: Cellar) -> None:
    with pytest.raises(Refusal):
        empty(cellar, key="k1", emptied_at=NOW + timedelta(days=2))
    assert empty(cellar, key="k1").emptying.emptied_at == NOW


def test_chain_of_real_work_is_whole(cellar: Cellar) -> None:
    cellar.filled(cellar.released())
    assert check_chain() is None


@pytest.mark.parametrize(
    "edit",
    [
        "UPDATE brewhygiene_entry SET user_id = NULL WHERE id = %s",
        "UPDATE brewhygiene_entry SET verb = 'something else' WHERE id = %s",
        "UPDATE brewhygiene_entry SET subject_id = 9999 WHERE id = %s",
        "UPDATE brewhygiene_entry SET hash = repeat_hash WHERE id = %s",
    ],
)
def test_edit_behind_the_application_shows(cellar: Cellar, edit: str) -> None:
    empty(cellar)
    entry = Entry.objects.order_by("pk")[1]
    with unguarded(Entry), connection.cursor() as cursor:
        cursor.execute(edit.replace("repeat_hash", f"'{'0' * 64}'"), [entry.pk])
    assert check_chain() == entry


def test_entry_removed_behind_the_application_shows(cellar: Cellar) -> None:
    empty(cellar)
    first, second, *_ = Entry.objects.order_by("pk")
    with unguarded(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM brewhygiene_binding WHERE entry_id = %s", [first.pk])
        cursor.execute("DELETE FROM brewhygiene_entry WHERE id = %s", [first.pk])
    assert check_chain() == second


def test_entry_is_not_changed_or_deleted_through_the_models(cellar: Cellar) -> None:
    empty(cellar)
    entry = Entry.objects.latest("pk")
    with pytest.raises(LedgerIsAppendOnly):
        entry.save()
    with pytest.raises(LedgerIsAppendOnly):
        entry.delete()
    with pytest.raises(LedgerIsAppendOnly):
        Entry.objects.all().delete()
    with pytest.raises(LedgerIsAppendOnly):
        Entry.objects.update(verb="nothing")


def test_record_hash_moves_with_every_write(cellar: Cellar) -> None:
    turnaround = empty(cellar)
    before = record_hash(turnaround)
    cellar.started(turnaround)
    after = record_hash(turnaround)
    assert (before[1], after[1]) == (1, 2)
    assert before[0] != after[0]
