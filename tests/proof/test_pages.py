"""The ledger's own pages."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.ledger.adoption import bind_unbound
from brewhygiene.ledger.models import Entry, Head
from tests.factories import NOW, Cellar

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    made = Cellar()
    bind_unbound(now=NOW)
    return made


def client_of(user: Any) -> Client:
    client = Client()
    client.force_login(user)
    return client


def listed(page: Any) -> list[str]:
    return [entry.verb for entry in page.context["page"]]


ADDRESSES = [
    reverse("proof:entries"),
    reverse("proof:head"),
    reverse("proof:entry", args=[1]),
    reverse("proof:record", args=[1]),
]


@pytest.mark.parametrize("address", ADDRESSES)
def test_pages_are_for_those_who_see_everything(cellar: Cellar, address: str) -> None:
    cellar.emptied()
    assert client_of(cellar.hand).get(address).status_code == 403
    away = Client().get(address)
    assert (away.status_code, away["Location"].startswith("/sign-in/")) == (302, True)


def test_pages_have_one_title_for_owner_and_head_brewer(cellar: Cellar) -> None:
    cellar.emptied()
    for user in (cellar.owner, cellar.brewer):
        for address in ADDRESSES[:3]:
            page = client_of(user).get(address)
            assert (page.status_code, page.content.decode().count("<h1>")) == (200, 1)


def test_entries_say_who_did_what_when_and_from_where(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    entry = Entry.objects.latest("number")
    text = client_of(cellar.owner).get(ADDRESSES[0]).content.decode()
    row = text.split(f'href="{reverse("proof:entry", args=[entry.number])}"')[1].split("</tr>")[0]
    for said in (
        "Jonas Feld",
        "Empty vessel",
        str(turnaround),
        "192.0.2.7",
        "10 Mar 2026, 09:00:00",
    ):
        assert row.count(said) == 1, said


def test_entries_are_chosen_by_person_action_record_and_day(cellar: Cellar) -> None:
    cellar.released()
    client = client_of(cellar.owner)

    def asked(**query: Any) -> list[str]:
        return listed(client.get(ADDRESSES[0], query))

    assert asked(person=cellar.brewer.pk, action="decide") == ["decide"]
    assert set(asked(person=0)) == {"bind earlier rows"}
    assert asked(action="record result") == ["record result"]
    assert asked(about=cellar.vessel.name, action="empty vessel") == ["empty vessel"]
    assert asked(about="no such record") == []
    assert asked(since="2026-03-10", until="2026-03-10", action="decide") == ["decide"]
    assert asked(since="2026-03-11", action="decide") == []
    assert asked(until="2026-03-09", action="decide") == []


@pytest.mark.parametrize(
    "query",
    [
        {"since": "0001-01-01"},
        {"until": "9999-12-31"},
        {"person": "1" * 30},
        {"action": "\x00"},
        {"about": "\x00"},
        {"page": "9" * 30},
        {"since": "yesterday"},
    ],
)
def test_what_cannot_be_asked_is_said_and_breaks_nothing(
    cellar: Cellar, query: dict[str, str]
) -> None:
    page = client_of(cellar.owner).get(ADDRESSES[0], query)
    assert page.status_code == 200
    if "page" not in query:
        assert page.context["form"].errors


@pytest.mark.parametrize("number", [0, 9_999, 10**30])
def test_entry_that_does_not_exist_is_not_found(cellar: Cellar, number: int) -> None:
    client = client_of(cellar.owner)
    assert client.get(reverse("proof:entry", args=[number])).status_code == 404
    assert client.get(reverse("proof:record", args=[number])).status_code == 404


def test_list_takes_the_same_queries_for_many_entries_as_for_few(
    cellar: Cellar, django_assert_num_queries: Any
) -> None:
    client = client_of(cellar.owner)
    with django_assert_num_queries(11):
        client.get(ADDRESSES[0])
    cellar.released()
    with django_assert_num_queries(11):
        client.get(ADDRESSES[0])


def test_list_says_since_when_a_head_is_outside_and_claims_no_more(cellar: Cellar) -> None:
    client = client_of(cellar.owner)
    text = client.get(ADDRESSES[0]).content.decode()
    assert "No head was given out yet." in text
    assert "tamper-evident, not tamper-proof" in text
    assert "Rows recorded by an earlier version were bound up to entry " in text
    assert client.get(ADDRESSES[1]).status_code == 200
    head = Head.objects.get()
    text = client.get(ADDRESSES[0]).content.decode()
    assert f"at entry {head.number}. Whoever has the database and its key can rewrite" in text


def test_head_is_shown_as_text_and_as_a_code(cellar: Cellar) -> None:
    text = client_of(cellar.owner).get(ADDRESSES[1]).content.decode()
    head = Head.objects.get()
    assert text.count("<svg") == 1
    assert head.root in text
    assert head.signature in text


def test_head_that_cannot_be_signed_is_said(cellar: Cellar, tmp_path: Any, settings: Any) -> None:
    (tmp_path / "ledger_key.pem").write_text("no key")
    settings.LEDGER_KEY_DIR = tmp_path
    cellar.emptied()
    client = client_of(cellar.owner)
    page = client.get(ADDRESSES[1])
    assert "The head cannot be signed." in page.content.decode()
    assert client.get(ADDRESSES[3]).status_code in (404, 503)


def test_entry_shows_its_values_and_what_it_bound(cellar: Cellar) -> None:
    cellar.sampled(cellar.cleaned(), rlu=7, now=NOW + timedelta(minutes=30))
    entry = Entry.objects.latest("number")
    text = client_of(cellar.owner).get(reverse("proof:entry", args=[entry.number])).content.decode()
    assert entry.hash in text
    assert "brewhygiene_result" in text
    assert "&quot;rlu&quot;: 7" in text
