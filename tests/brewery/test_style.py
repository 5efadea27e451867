"""Whose style a page is in; and that what is recorded is in none but the plain one."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from brewhygiene.brewery import actions as brewery_actions
from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.actions import choose_own_style
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.models import User
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import PLAIN, Style, shown_to, style, told
from brewhygiene.refusals import Refusal
from brewhygiene.reports.record.pdf import record_html
from brewhygiene.turnarounds.actions import empty_vessel
from tests.factories import NOW, Cellar, acting, make_brewery, make_cellar_hand, make_owner

pytestmark = pytest.mark.django_db
COMMA = Style(",", "month_first")
ADDRESS = "/numbers-and-dates/"


def shown_burette(client: Client) -> str:
    """The burette's volume as the settings show it to somebody who may not change them."""
    page = client.get("/set-up/brewery/").content.decode()
    return page.split("<dt>Burette</dt><dd>")[1].split("<")[0]


def test_page_is_in_the_persons_style_else_in_the_brewerys(client: Client) -> None:
    make_brewery(burette_ml=12.5, decimal_sign=",")
    person = make_cellar_hand()
    client.force_login(person)
    assert shown_burette(client) == "12,5 mL"
    choose_own_style(by=acting(person), decimal_sign=".", date_style="")
    assert shown_burette(client) == "12.5 mL"
    assert style() == PLAIN


def test_scripts_are_told_of_a_style_that_is_not_the_plain_one(client: Client) -> None:
    make_brewery()
    person = make_cellar_hand()
    client.force_login(person)
    head = client.get("/").content.decode().split("<head>")[0]
    assert ("data-decimal" in head, "data-dates" in head) == (False, False)
    choose_own_style(by=acting(person), decimal_sign=",", date_style="iso")
    head = client.get("/").content.decode().split("<head>")[0]
    assert 'data-decimal="," data-dates="iso">' in head


def test_style_takes_no_query(client: Client) -> None:
    make_brewery()
    person = make_cellar_hand()
    client.force_login(person)
    client.get("/pin/")
    counts = []
    for sign in ("", ","):
        User.objects.update(decimal_sign=sign)
        with CaptureQueriesContext(
            connection,
        ) as seen:
            client.get("/pin/")
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_own_page_sets_the_style_by_an_action(client: Client) -> None:
    make_brewery()
    person = make_cellar_hand()
    client.force_login(person)
    answer = client.post(ADDRESS, {"decimal_sign": ",", "date_style": "month_first"})
    assert answer["Location"] == "/pin/"
    person.refresh_from_db()
    assert (person.decimal_sign, person.date_style) == (",", "month_first")
    entry = Entry.objects.get()
    assert (entry.verb, entry.values["after"]) == (
        "choose own style",
        {"decimal_sign": ",", "date_style": "month_first"},
    )
    answer = client.post(ADDRESS, {"decimal_sign": ";", "date_style": "iso"})
    assert (answer.status_code, list(answer.context["form"].errors)) == (422, ["decimal_sign"])


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"decimal_sign": ";", "date_style": ""}, "decimal_sign"),
        ({"decimal_sign": "", "date_style": "moon"}, "date_style"),
    ],
)
def test_action_refuses_a_style_that_there_is_not(values: dict[str, str], field: str) -> None:
    with pytest.raises(Refusal) as refused:
        choose_own_style(by=acting(make_cellar_hand()), **values)
    assert refused.value.field == field


@action("write a number for a test")
def write_number(*, by: Actor, said: str) -> Recorded[Brewery]:
    return Recorded(Brewery.objects.get(), {"number": show_number(2.5), "said": said})


def test_what_is_recorded_is_plain_whoever_acts() -> None:
    make_brewery()
    by = acting(make_owner())
    with shown_to(COMMA):
        ActionForm().attempt(lambda: write_number(by=by, said=show_number(1.5)))
        assert style() == COMMA
    assert Entry.objects.get().values == {"number": "2.5", "said": "1.5"}


@action("refuse a number for a test")
def refuse_number(*, by: Actor) -> Recorded[Brewery]:
    with told():
        raise Refusal(f"{show_number(2.5)} hL do not fit.")


def test_refusal_is_said_in_the_persons_style() -> None:
    with shown_to(COMMA), pytest.raises(Refusal, match=r"^2,5 hL do not fit"):
        refuse_number(by=acting(make_owner()))
    assert style() == PLAIN


def test_release_record_is_in_the_brewerys_style_whoever_prints_it() -> None:
    cellar = Cellar()
    turnaround = empty_vessel(
        by=acting(cellar.hand), vessel=cellar.vessel, emptied_at=NOW, beer=cellar.pale
    )
    plain = record_html(turnaround, now=NOW)
    with shown_to(COMMA):
        assert record_html(turnaround, now=NOW) == plain
    brewery_actions.edit_brewery(by=acting(make_owner()), date_style="iso")
    words = record_html(turnaround, now=NOW)
    assert f"{NOW:%Y-%m-%d %H}:" in words
    assert f"{NOW:%Y-%m-%d %H}:" not in plain
