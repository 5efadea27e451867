"""The screens of agents and regimes, for those who may edit them and those who may look."""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.people.models import User
from brewhygiene.regimes.about import About
from brewhygiene.regimes.actions import create_regime
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.library.regimes import REGIMES
from brewhygiene.regimes.models import Agent, Regime
from tests.factories import (
    PASSWORD,
    Cellar,
    acting,
    make_agent,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_owner,
    make_peracetic,
    make_version,
)
from tests.regimes.sending import RINSE, TIME, TIMED, edited, made, sent
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def brewer() -> User:
    make_brewery()
    return make_head_brewer()


READ = [("regimes:agents", False), ("regimes:regimes", False), ("regimes:regime", True)]
CHANGE = [
    ("regimes:add_agent", False),
    ("regimes:agent", True),
    ("regimes:add_regime", False),
    ("regimes:edit_regime", True),
    ("regimes:copy_regime", True),
]
POSTED = [
    ("regimes:retire_regime", True),
    ("regimes:reinstate_regime", True),
    ("regimes:add_starting_regimes", False),
]


def address(name: str, with_pk: bool, brewer: User) -> str:
    regime = made(brewer)
    agent = make_agent()
    return reverse(name, args=[agent.pk if "agent" in name else regime.pk] if with_pk else [])


@pytest.mark.parametrize("who", [make_head_brewer, make_cellar_hand, make_owner])
@pytest.mark.parametrize(("name", "with_pk"), READ)
def test_anybody_signed_in_may_look(brewer: User, who: Any, name: str, with_pk: bool) -> None:
    page = signed_in(who()).get(address(name, with_pk, brewer))
    assert (page.status_code, page.content.decode().count("<h1")) == (200, 1)


@pytest.mark.parametrize(("name", "with_pk"), CHANGE)
def test_only_the_head_brewer_may_change(brewer: User, name: str, with_pk: bool) -> None:
    url = address(name, with_pk, brewer)
    people = [signed_in(who) for who in (brewer, make_cellar_hand(), make_owner())]
    assert [client.get(url).status_code for client in people] == [200, 403, 403]
    assert [client.post(url, {"name": ""}).status_code for client in people] == [422, 403, 403]


@pytest.mark.parametrize(("name", "with_pk"), POSTED)
def test_buttons_are_the_head_brewers(brewer: User, name: str, with_pk: bool) -> None:
    url = address(name, with_pk, brewer)
    if "reinstate" in name:
        Regime.objects.update(active=False)
    people = (make_cellar_hand(), make_owner(), brewer)
    given = {"password": PASSWORD}
    assert [signed_in(who).post(url, given).status_code for who in people] == [403, 403, 302]


@pytest.mark.parametrize(("name", "with_pk"), POSTED)
@pytest.mark.parametrize(
    ("password", "message"),
    [
        ("", "Enter the password."),
        ("not-mine", "This is not your password. Nothing was signed."),
    ],
)
def test_regimes_change_with_the_password_only(
    brewer: User, name: str, with_pk: bool, password: str, message: str
) -> None:
    url = address(name, with_pk, brewer)
    before = list(Regime.objects.values())
    client = signed_in(brewer)
    assert client.get(url).status_code == 200
    page = client.post(url, {"password": password})
    assert (page.status_code, page.context["form"].errors) == (422, {"password": [message]})
    assert list(Regime.objects.values()) == before


def test_regime_is_saved_and_copied_with_the_password_only(brewer: User) -> None:
    regime = made(brewer)
    client = signed_in(brewer)
    page = edited(client, regime, {"kind": "drain"}, password="not-mine")
    assert page.context["editor"].regime.errors == {
        "password": ["This is not your password. Nothing was signed."]
    }
    page = client.post(reverse("regimes:add_regime"), sent(TIMED, name="Other", password=""))
    assert page.context["editor"].regime.errors == {"password": ["Enter the password."]}
    url = reverse("regimes:copy_regime", args=[regime.pk])
    page = client.post(url, {"name": "Own tank", "password": "not-mine"})
    assert list(page.context["form"].errors) == ["password"]
    assert [one.name for one in Regime.objects.all()] == [regime.name]
    assert [step.kind for step in regime.versions.get().steps.all()] == ["rinse"]


def test_password_that_somebody_else_set_changes_no_regime(brewer: User) -> None:
    regime = made(brewer)
    User.objects.filter(pk=brewer.pk).update(password_set_by="Tomas Brandt")
    page = signed_in(brewer).post(
        reverse("regimes:retire_regime", args=[regime.pk]), {"password": PASSWORD}
    )
    assert page.context["form"].errors["password"][0].startswith("Tomas Brandt set this password")
    assert Regime.objects.get().active


@pytest.mark.parametrize(("name", "with_pk"), READ + CHANGE + POSTED)
def test_a_stranger_is_sent_to_sign_in(brewer: User, name: str, with_pk: bool) -> None:
    url = address(name, with_pk, brewer)
    assert Client().get(url).headers["Location"].startswith(reverse("people:sign_in"))


@pytest.mark.parametrize("number", [1, 3])
def test_lists_take_the_same_queries_whatever_their_length(
    brewer: User, number: int, django_assert_num_queries: Callable[..., Any]
) -> None:
    for _ in range(number):
        make_version()
        make_agent()
    client = signed_in(brewer)
    with django_assert_num_queries(8):
        client.get(reverse("regimes:regimes"))
    with django_assert_num_queries(5):
        client.get(reverse("regimes:agents"))


@pytest.mark.parametrize("number", [1, 3])
def test_regime_page_takes_the_same_queries_whatever_its_length(
    brewer: User, number: int, django_assert_num_queries: Callable[..., Any]
) -> None:
    agent = make_peracetic()
    regime = made(brewer, *[StepDraft("sanitiser", agent, windows=(TIME,))] * number)
    client = signed_in(brewer)
    with django_assert_num_queries(8):
        client.get(reverse("regimes:regime", args=[regime.pk]))
    with django_assert_num_queries(11):
        client.get(reverse("regimes:edit_regime", args=[regime.pk]))


def test_list_is_filtered_by_kind_of_vessel(brewer: User) -> None:
    made(brewer, name="For fermenters")
    create_regime(
        by=acting(brewer),
        about=About("For kegs", vessel_kinds=["keg"]),
        steps=[RINSE],
        password=PASSWORD,
    )
    page = signed_in(brewer).get(reverse("regimes:regimes"), {"kind": "keg"})
    assert [regime.name for regime in page.context["active"]] == ["For kegs"]


def test_regime_page_shows_sources_cautions_and_advice(brewer: User) -> None:
    wash = StepDraft(
        "caustic",
        make_agent(),
        windows=(WindowDraft("time_min", 5, 7, 9, source="A manual (invented)"),),
    )
    regime = made(brewer, wash, RINSE)
    text = signed_in(brewer).get(reverse("regimes:regime", args=[regime.pk])).content.decode()
    for words in (
        "5 to 9 min, target 7",
        "A manual (invented)",
        COMMON_PRACTICE,
        "Vacuum valve free",
        "No vent-and-purge step comes before this caustic step",
    ):
        assert text.count(words) == 1, words


def test_regime_page_keeps_every_version(brewer: User) -> None:
    regime = made(brewer)
    cellar = Cellar()
    cellar.version = regime.versions.get()
    cellar.started(cellar.emptied())
    client = signed_in(brewer)
    page = edited(client, regime, TIMED, {"kind": "drain"}, change_note="Drain it too")
    versions = page.context["versions"]
    assert [(v.version.number, v.version.cleans_count, len(v.steps)) for v in versions] == [
        (2, 0, 2),
        (1, 1, 1),
    ]


def test_used_regime_asks_what_changed_beside_the_field(brewer: User) -> None:
    regime = made(brewer)
    cellar = Cellar()
    cellar.version = regime.versions.get()
    cellar.started(cellar.emptied())
    page = edited(signed_in(brewer), regime, {"kind": "drain"})
    assert page.status_code == 422
    assert page.context["editor"].regime.errors["change_note"] == [
        "Version 1 was used, so this becomes version 2. Enter what changed and why."
    ]


def test_copy_opens_in_the_editor(brewer: User) -> None:
    regime = made(brewer)
    reply = signed_in(brewer).post(
        reverse("regimes:copy_regime", args=[regime.pk]),
        {"name": "Own tank", "password": PASSWORD},
    )
    copied = Regime.objects.get(name="Own tank")
    assert reply.headers["Location"] == reverse("regimes:edit_regime", args=[copied.pk])


def test_starting_regimes_are_brought_in_and_then_no_longer_offered(brewer: User) -> None:
    client = signed_in(brewer)
    before = client.get(reverse("regimes:regimes")).content.decode()
    assert "Add starting regimes" in before
    page = client.post(reverse("regimes:add_starting_regimes"), {"password": PASSWORD}, follow=True)
    assert Regime.objects.count() == len(REGIMES)
    assert "Add starting regimes" not in page.content.decode()


AGENT = {
    "name": "Peracetic acid 5 %",
    "kind": "sanitiser",
    "active_substance": "PAA",
    "concentrate_strength_ww": "5",
    "no_rinse_allowed": "on",
    "no_rinse_max_mg_l": "150",
    "no_rinse_source": "the label",
    "active": "on",
}


def test_agent_is_added(brewer: User) -> None:
    reply = signed_in(brewer).post(
        reverse("regimes:add_agent"), {**AGENT, "concentrate_density_kg_l": "1,15"}
    )
    agent = Agent.objects.get()
    assert reply.headers["Location"] == reverse("regimes:agents")
    assert (agent.name, agent.concentrate_density_kg_l, agent.no_rinse_max_mg_l) == (
        "Peracetic acid 5 %",
        1.15,
        150,
    )


def test_agent_above_a_starting_value_is_saved_with_a_warning(brewer: User) -> None:
    page = signed_in(brewer).post(
        reverse("regimes:add_agent"), {**AGENT, "no_rinse_max_mg_l": "300"}, follow=True
    )
    assert Agent.objects.get().no_rinse_max_mg_l == 300
    warning = "300 mg/L is above the starting value for peracetic acid, 200 mg/L (21 CFR 178.1010"
    assert [str(m).startswith(warning) for m in page.context["messages"]] == [False, True]


def test_agent_with_bad_input_is_told_and_keeps_what_was_typed(brewer: User) -> None:
    typed = {
        **AGENT,
        "concentrate_strength_ww": "strong",
        "no_rinse_max_mg_l": "",
        "hazards": "Stings",
    }
    page = signed_in(brewer).post(reverse("regimes:add_agent"), typed)
    assert (page.status_code, Agent.objects.count()) == (422, 0)
    assert dict(page.context["form"].errors) == {
        "concentrate_strength_ww": ["“strong” is not a number. Enter digits, e.g. 2.5 or 2,5."]
    }
    text = page.content.decode()
    assert [text.count('value="strong"'), text.count("Stings</textarea>")] == [1, 1]


def test_agent_refused_by_a_rule_is_told_beside_its_field(brewer: User) -> None:
    page = signed_in(brewer).post(reverse("regimes:add_agent"), {**AGENT, "no_rinse_max_mg_l": ""})
    assert dict(page.context["form"].errors) == {
        "no_rinse_max_mg_l": ["Enter the maximum without a rinse, in mg/L active."]
    }
