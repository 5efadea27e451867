"""Names of people who left stand in one table, which can be emptied; entries keep a number."""

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.ledger.adoption import bind_unbound
from brewhygiene.ledger.check.whole import check_everything
from brewhygiene.ledger.models import Binding, Entry
from brewhygiene.people.actions import edit_person, forget_name
from brewhygiene.people.models import User
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import NOW, PASSWORD, Cellar, acting

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    """Jonas Feld has worked here, and has left."""
    made = Cellar()
    bind_unbound(now=NOW)
    made.cleaned()
    edit_person(
        by=acting(made.owner),
        person=made.hand,
        full_name="Jonas Feld",
        initials="JF",
        roles=["cellar"],
        is_active=False,
        password=PASSWORD,
    )
    return made


def test_emptied_name_is_nowhere_and_the_entries_still_hold(cellar: Cellar) -> None:
    numbers = list(Entry.objects.filter(user=cellar.hand).values_list("number", flat=True))
    forget_name(by=acting(cellar.owner), person=cellar.hand, password=PASSWORD)
    person = User.objects.get(pk=cellar.hand.pk)
    assert (person.full_name, person.initials, person.username) == (
        f"Person {person.pk}",
        "",
        f"person-{person.pk}",
    )
    assert not person.has_usable_password()
    entries = Entry.objects.filter(number__in=numbers)
    assert {entry.who for entry in entries} == {f"Person {person.pk}"}
    for entry in Entry.objects.select_related("user"):
        assert "Jonas" not in entry.hashed_text()
        assert "Jonas" not in entry.subject_label
    assert list(check_everything()) == []
    assert Binding.objects.filter(table=User._meta.db_table, row=person.pk).count() == 3


def test_emptied_name_is_gone_from_whom_that_person_gave_a_password(cellar: Cellar) -> None:
    other = cellar.brewer
    User.objects.filter(pk=other.pk).update(password_set_by="Jonas Feld")
    bind_unbound(now=NOW)
    forget_name(by=acting(cellar.owner), person=cellar.hand, password=PASSWORD)
    other.refresh_from_db()
    assert other.password_set_by == f"Person {cellar.hand.pk}"
    entry = Entry.objects.latest("number")
    bound = Binding.objects.filter(entry=entry, table=User._meta.db_table)
    assert sorted(bound.values_list("row", flat=True)) == sorted([cellar.hand.pk, other.pk])


def test_name_of_somebody_who_may_sign_in_is_not_emptied(cellar: Cellar) -> None:
    with pytest.raises(Refusal) as refused:
        forget_name(by=acting(cellar.owner), person=cellar.brewer, password=PASSWORD)
    assert refused.value.code == "active"
    with pytest.raises(NotAllowed):
        forget_name(
            by=acting(User.objects.get(pk=cellar.hand.pk)), person=cellar.hand, password=PASSWORD
        )


def test_page_asks_for_the_password_and_empties_the_name(cellar: Cellar) -> None:
    client = Client()
    client.force_login(cellar.owner)
    address = reverse("people:forget", args=[cellar.hand.pk])
    assert (
        f'href="{address}"'
        in client.get(reverse("people:edit", args=[cellar.hand.pk])).content.decode()
    )
    assert client.post(address, {"password": "wrong"}).status_code == 422
    assert User.objects.get(pk=cellar.hand.pk).full_name == "Jonas Feld"
    assert client.post(address, {"password": PASSWORD}).status_code == 302
    assert User.objects.get(pk=cellar.hand.pk).full_name == f"Person {cellar.hand.pk}"
