"""The editor of a regime: what is typed, rearranged, refused and saved."""

import pytest
from django.urls import reverse

from brewhygiene.people.models import User
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.models import Regime
from tests.factories import (
    make_agent,
    make_brewery,
    make_head_brewer,
)
from tests.regimes.sending import TIMED, edited, made, sent
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def brewer() -> User:
    make_brewery()
    return make_head_brewer()


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
    assert dict(editor.regime.errors) == {"name": ["Fill in this field."]}
    assert dict(editor.steps[0].errors) == {
        "time_min_minimum": ["“ten” is not a number. Enter digits, e.g. 2.5 or 2,5."],
        "temperature_c_minimum": ["Enter them in order: minimum, target, maximum."],
        "ph_source": ["Enter a source, or tick “common practice, no source”."],
    }
    text = page.content.decode()
    for typed in ("Mind the gasket", 'value="ten"', 'value="60"', 'value="50"', 'value="us"'):
        assert text.count(typed) == 1, typed


def test_source_and_tick_together_are_told_apart(brewer: User) -> None:
    step = {**TIMED, "time_min_source": "the label"}
    page = signed_in(brewer).post(reverse("regimes:add_regime"), sent(step))
    assert dict(page.context["editor"].steps[0].errors) == {
        "time_min_source": ["Enter a source or tick common practice, not both."]
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
            f"{brewer} edited this regime since you opened it. Open it in another window and "
            "enter your edits again."
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
            "Step 1, time: the numbers changed and the source did not. Check that “A manual "
            "(invented)” still applies."
        ),
    ]
