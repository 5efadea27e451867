"""The screens of agents and regimes, for those who may change them and those who may look."""

from collections.abc import Callable, Mapping
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.people.models import User
from brewhygiene.regimes.about import About
from brewhygiene.regimes.actions import create_regime
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.library.regimes import REGIMES
from brewhygiene.regimes.models import Agent, Quantity, Regime
from tests.factories import (
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

pytestmark = pytest.mark.django_db

TIME = WindowDraft("time_min", 5, None, None, source=COMMON_PRACTICE)
RINSE = StepDraft("rinse", windows=(TIME,))


@pytest.fixture
def brewer() -> User:
    make_brewery()
    return make_head_brewer()


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def made(brewer: User, *steps: StepDraft, name: str = "Tank") -> Regime:
    return create_regime(
        by=acting(brewer),
        about=About(name=name, vessel_kinds=["fermenter"]),
        steps=steps or [RINSE],
    )


def step_fields(position: int, **values: str) -> dict[str, str]:
    """What the browser sends for one step."""
    start = f"step{position}-"
    empty = {
        f"{start}{quantity}_{part}": ""
        for quantity in Quantity.values
        for part in ("minimum", "target", "maximum", "source")
    }
    return {
        **empty,
        f"{start}kind": "rinse",
        f"{start}agent": "",
        f"{start}instruction": "",
        f"{start}end_criterion": "",
        f"{start}end_criterion_source": "",
        f"{start}concentration_basis": "",
        **{f"{start}{name}": value for name, value in values.items()},
    }


def sent(*steps: Mapping[str, str], do: str = "save", **values: Any) -> dict[str, Any]:
    fields: dict[str, Any] = {"name": "Tank", "vessel_kinds": ["fermenter"], "level": "2", "do": do}
    for position, step in enumerate(steps):
        fields |= step_fields(position, **step)
    return {**fields, **values}


def edited(client: Client, regime: Regime, *steps: Mapping[str, str], **values: Any) -> Any:
    """Open the editor and send it with these steps; the reply, or the page it leads to."""
    url = reverse("regimes:edit_regime", args=[regime.pk])
    seen = client.get(url).context["editor"].regime["seen"].value()
    return client.post(url, sent(*steps, seen=seen, **values), follow=True)


TIMED = {"time_min_minimum": "5", "time_min_common": "on"}

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
    ("regimes:bring_in", False),
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
    people = (make_cellar_hand(), make_owner(), brewer)
    assert [signed_in(who).post(url).status_code for who in people] == [403, 403, 302]
    assert signed_in(brewer).get(url).status_code == 405


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
    with django_assert_num_queries(10):
        client.get(reverse("regimes:edit_regime", args=[regime.pk]))


def test_list_is_filtered_by_kind_of_vessel(brewer: User) -> None:
    made(brewer, name="For fermenters")
    create_regime(by=acting(brewer), about=About("For kegs", vessel_kinds=["keg"]), steps=[RINSE])
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
        "5 to 9 min, aim for 7",
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
        "Version 1 was used, so this becomes version 2. Say what changed and why."
    ]


def test_new_regime_is_saved_as_typed(brewer: User) -> None:
    agent = make_agent()
    wash = {
        "kind": "caustic",
        "agent": str(agent.pk),
        "concentration_minimum": "1,5",
        "concentration_target": "2",
        "concentration_maximum": "3.0",
        "concentration_basis": "ww",
        "concentration_source": "the label",
    }
    end = {"end_criterion": "neutral", "end_criterion_common": "on"}
    reply = signed_in(brewer).post(reverse("regimes:add_regime"), sent(wash, {**TIMED, **end}))
    regime = Regime.objects.get()
    assert reply.headers["Location"] == reverse("regimes:regime", args=[regime.pk])
    first, second = regime.versions.get().steps.all()
    window = first.windows.get()
    assert (first.kind, first.agent, window.minimum, window.target, window.maximum) == (
        "caustic",
        agent,
        1.5,
        2,
        3,
    )
    assert (window.basis, window.source) == ("ww", "the label")
    assert (second.end_criterion_source, second.windows.get().source) == (COMMON_PRACTICE,) * 2


def test_new_regime_sent_twice_is_one(brewer: User) -> None:
    client = signed_in(brewer)
    for _ in range(2):
        reply = client.post(reverse("regimes:add_regime"), sent(TIMED, key="same"))
        assert reply.status_code == 302
    assert Regime.objects.count() == 1


def test_bad_input_is_told_beside_each_field_and_nothing_typed_is_lost(brewer: User) -> None:
    step = {
        "instruction": "Mind the gasket",
        "time_min_minimum": "ten",
        "temperature_c_minimum": "60",
        "temperature_c_maximum": "50",
        "temperature_c_source": "us",
        "ph_maximum": "7",
    }
    page = signed_in(brewer).post(reverse("regimes:add_regime"), sent(step, name=""))
    assert (page.status_code, Regime.objects.count()) == (422, 0)
    editor = page.context["editor"]
    assert dict(editor.regime.errors) == {"name": ["Fill this in."]}
    assert dict(editor.steps[0].errors) == {
        "time_min_minimum": ["“ten” is not a number. Type digits, as 2.5 or 2,5."],
        "temperature_c_minimum": ["Put them in order: least, aim, most."],
        "ph_source": ["Say where these numbers come from, or tick “common practice, no source”."],
    }
    text = page.content.decode()
    for typed in ("Mind the gasket", 'value="ten"', 'value="60"', 'value="50"', 'value="us"'):
        assert text.count(typed) == 1, typed


def test_source_and_tick_together_are_told_apart(brewer: User) -> None:
    step = {**TIMED, "time_min_source": "the label"}
    page = signed_in(brewer).post(reverse("regimes:add_regime"), sent(step))
    assert dict(page.context["editor"].steps[0].errors) == {
        "time_min_source": ["Either a source or the tick, not both. Take one away."]
    }


def test_regime_without_steps_is_refused_on_the_page(brewer: User) -> None:
    page = signed_in(brewer).post(reverse("regimes:add_regime"), sent())
    assert page.context["editor"].regime.non_field_errors() == ["A regime needs at least one step."]


def kinds_after(brewer: User, do: str, **values: str) -> list[str]:
    steps = [{"kind": "vent"}, {"kind": "rinse", "instruction": "Typed"}, {"kind": "drain"}]
    page = signed_in(brewer).post(
        reverse("regimes:add_regime"), sent(*steps, do=do, name="Half typed", **values)
    )
    editor = page.context["editor"]
    assert (page.status_code, Regime.objects.count()) == (200, 0)
    assert editor.regime["name"].value() == "Half typed"
    assert editor.regime["vessel_kinds"].value() == ["fermenter"]
    return [step["kind"].value() + (step["instruction"].value() or "") for step in editor.steps]


@pytest.mark.parametrize(
    ("do", "kinds"),
    [
        ("up:1", ["rinseTyped", "vent", "drain"]),
        ("up:0", ["vent", "rinseTyped", "drain"]),
        ("down:1", ["vent", "drain", "rinseTyped"]),
        ("down:2", ["vent", "rinseTyped", "drain"]),
        ("remove:0", ["rinseTyped", "drain"]),
        ("remove:9", ["vent", "rinseTyped", "drain"]),
        ("add:3", ["vent", "rinseTyped", "drain", "acid"]),
        ("nonsense", ["vent", "rinseTyped", "drain"]),
    ],
)
def test_steps_are_rearranged_and_nothing_is_written(
    brewer: User, do: str, kinds: list[str]
) -> None:
    assert kinds_after(brewer, do, new_kind="acid") == kinds


def test_rearranging_keeps_what_is_no_number(brewer: User) -> None:
    steps = [{"time_min_minimum": "ten"}, {"kind": "drain"}]
    page = signed_in(brewer).post(reverse("regimes:add_regime"), sent(*steps, do="down:0"))
    assert page.context["editor"].steps[1]["time_min_minimum"].value() == "ten"


def test_editor_shows_and_takes_the_sites_units(brewer: User) -> None:
    make_brewery(temperature_unit="F", flow_unit="gpm")
    hot = WindowDraft("temperature_c", 76.7, source=COMMON_PRACTICE)
    regime = made(brewer, StepDraft("hot_water", windows=(hot,)))
    client = signed_in(brewer)
    url = reverse("regimes:edit_regime", args=[regime.pk])
    assert 'value="170.06"' in client.get(url).content.decode()
    step = {
        "kind": "hot_water",
        "temperature_c_minimum": "176",
        "temperature_c_common": "on",
        "flow_l_min_maximum": "2",
        "flow_l_min_common": "on",
    }
    edited(client, regime, step)
    windows = regime.versions.get().steps.get().windows
    assert windows.get(quantity="temperature_c").minimum == pytest.approx(80)
    # 1 US gallon is 3.785411784 L by definition.
    assert windows.get(quantity="flow_l_min").maximum == pytest.approx(2 * 3.785411784)


def test_change_made_on_a_stale_page_is_refused(brewer: User) -> None:
    regime = made(brewer)
    client = signed_in(brewer)
    url = reverse("regimes:edit_regime", args=[regime.pk])
    seen = client.get(url).context["editor"].regime["seen"].value()
    assert client.post(url, sent({"kind": "drain"}, seen=seen)).status_code == 302
    page = client.post(url, sent({"kind": "vent"}, seen=seen))
    assert page.status_code == 422
    assert page.context["editor"].regime.non_field_errors() == [
        (
            f"{brewer} changed this regime since you opened it. Open it again beside this page and "
            "carry your change over."
        )
    ]


def test_numbers_changed_under_an_old_source_are_doubted_after_saving(brewer: User) -> None:
    window = WindowDraft("time_min", 15, source="A manual (invented)")
    regime = made(brewer, StepDraft("rinse", windows=(window,)))
    step = {"time_min_minimum": "10", "time_min_source": "A manual (invented)"}
    page = edited(signed_in(brewer), regime, step)
    assert [str(message) for message in page.context["messages"]] == [
        "Saved as version 1.",
        (
            "Step 1, time: the numbers changed and the source did not. Does “A manual (invented)” "
            "say so?"
        ),
    ]


def test_copy_opens_in_the_editor(brewer: User) -> None:
    regime = made(brewer)
    reply = signed_in(brewer).post(
        reverse("regimes:copy_regime", args=[regime.pk]), {"name": "Own tank"}
    )
    copied = Regime.objects.get(name="Own tank")
    assert reply.headers["Location"] == reverse("regimes:edit_regime", args=[copied.pk])


def test_starting_regimes_are_brought_in_and_then_no_longer_offered(brewer: User) -> None:
    client = signed_in(brewer)
    before = client.get(reverse("regimes:regimes")).content.decode()
    assert "Bring in the starting regimes" in before
    page = client.post(reverse("regimes:bring_in"), follow=True)
    assert Regime.objects.count() == len(REGIMES)
    assert "Bring in the starting regimes" not in page.content.decode()


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
        "concentrate_strength_ww": ["“strong” is not a number. Type digits, as 2.5 or 2,5."]
    }
    text = page.content.decode()
    assert [text.count('value="strong"'), text.count("Stings</textarea>")] == [1, 1]


def test_agent_refused_by_a_rule_is_told_beside_its_field(brewer: User) -> None:
    page = signed_in(brewer).post(reverse("regimes:add_agent"), {**AGENT, "no_rinse_max_mg_l": ""})
    assert dict(page.context["form"].errors) == {
        "no_rinse_max_mg_l": ["Give the most that may be left without a rinse, in mg/L active."]
    }
