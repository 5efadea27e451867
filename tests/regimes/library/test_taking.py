"""A site's version beside the shipped wording, which is taken by hand and never by itself."""

import dataclasses
from typing import Any

import pytest
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature, User
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.regimes.about import About
from brewhygiene.regimes.actions import content_mark, save_regime_version
from brewhygiene.regimes.drafts import StepDraft, WindowDraft, drafts_of
from brewhygiene.regimes.library.differences import (
    Differences,
    Line,
    agents_as_shipped,
    differences,
    starting_of,
    steps_beside,
)
from brewhygiene.regimes.library.install import install_library, take_shipped
from brewhygiene.regimes.library.regimes import REGIMES
from brewhygiene.regimes.models import Agent, Regime, RegimeVersion
from brewhygiene.regimes.queries import versions_with_steps
from tests.factories import (
    PASSWORD,
    Cellar,
    acting,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_vessel,
)
from tests.turnarounds.floor import signed_in

NAME = "Yeast vessel, hot caustic"


def bounds(window: WindowDraft) -> str:
    return f"{window.minimum} to {window.maximum}"


def step(kind: str, **values: Any) -> StepDraft:
    return StepDraft(kind, **values)


TIME = WindowDraft("time_min", 5, None, 20, source="Label")


def test_same_steps_have_no_difference() -> None:
    both = [step("rinse", instruction="Cold ", windows=(TIME,)), step("drain")]
    found = steps_beside(both, [dataclasses.replace(both[0], instruction="Cold"), both[1]], bounds)
    assert [one.change for one in found] == ["same", "same"]
    assert not Differences(found, [])
    assert Differences(found, ["keg"])


@pytest.mark.parametrize(
    ("own", "line"),
    [
        ({"instruction": "Hot"}, Line("Instruction", "Hot", "Cold")),
        ({"instruction": ""}, Line("Instruction", "none", "Cold")),
        ({"windows": ()}, Line("Time", "not set", "5 to 20 (Label)")),
        (
            {"windows": (dataclasses.replace(TIME, minimum=6),)},
            Line("Time", "6 to 20 (Label)", "5 to 20 (Label)"),
        ),
        (
            {"windows": (dataclasses.replace(TIME, source="Own"),)},
            Line("Time", "5 to 20 (Own)", "5 to 20 (Label)"),
        ),
        (
            {"windows": (dataclasses.replace(TIME, target=7),)},
            Line("Time", "5 to 20 (Label)", "5 to 20 (Label)"),
        ),
        (
            {"end_criterion": "neutral", "end_criterion_source": "Own"},
            Line("Ends when", "pH of the rinse 6 to 8 (Own)", "runs clear (Label)"),
        ),
        (
            {"end_criterion_source": "Own"},
            Line("Ends when", "runs clear (Own)", "runs clear (Label)"),
        ),
    ],
)
def test_what_differs_in_a_step_is_named(own: dict[str, Any], line: Line) -> None:
    shipped = step(
        "rinse",
        instruction="Cold",
        end_criterion="runs_clear",
        end_criterion_source="Label",
        windows=(TIME,),
    )
    (found,) = steps_beside([dataclasses.replace(shipped, **own)], [shipped], bounds)
    assert (found.change, found.lines) == ("edited", [line])


def test_steps_of_one_side_only_stand_where_they_belong() -> None:
    caustic, acid = Agent(name="Caustic"), Agent(name="Acid")
    own = [step("pre_rinse"), step("caustic", agent=caustic), step("drain")]
    shipped = [
        step("pre_rinse"),
        step("acid", agent=acid),
        step("drain"),
        step("sample", windows=(TIME,)),
    ]
    found = steps_beside(own, shipped, bounds)
    assert [(one.title, one.change) for one in found] == [
        ("Pre-rinse", "same"),
        ("Caustic: Caustic", "only yours"),
        ("Acid: Acid", "only shipped"),
        ("Drain", "same"),
        ("Sample", "only shipped"),
    ]
    assert found[-1].lines == [Line("Time", "not set", "5 to 20 (Label)")]


@pytest.fixture
def brewer(db: None) -> User:
    make_brewery()
    return make_head_brewer()


@pytest.fixture
def regime(brewer: User) -> Regime:
    """The shipped regime of yeast vessels, as a site has edited it."""
    install_library(by=acting(brewer), password=PASSWORD)
    found = Regime.objects.get(name=NAME)
    steps = drafts_of(current(found))
    steps[1] = dataclasses.replace(steps[1], instruction="As we do it")
    save_regime_version(
        by=acting(brewer),
        regime=found,
        about=About.of(found),
        steps=steps[:-1],
        password=PASSWORD,
    )
    return found


def current(regime: Regime) -> RegimeVersion:
    return versions_with_steps().get(regime=regime, current=True)


def compared(regime: Regime) -> Differences:
    starting = starting_of(regime)
    assert starting is not None
    return differences(current(regime), starting, bounds)


def taken(brewer: User, regime: Regime, *, password: str = PASSWORD, **values: Any) -> Any:
    seen = values.pop("seen", content_mark(current(regime)))
    return take_shipped(by=acting(brewer), regime=regime, password=password, seen=seen)


def test_brought_in_regimes_have_the_shipped_wording(brewer: User) -> None:
    install_library(by=acting(brewer), password=PASSWORD)
    for one in Regime.objects.all():
        assert not compared(one), one.name
    assert Regime.objects.count() == len(REGIMES)


def test_only_a_shipped_regime_by_its_own_name_is_compared(regime: Regime, brewer: User) -> None:
    assert starting_of(Regime(name=NAME.upper(), shipped=True)) is not None
    assert starting_of(Regime(name=NAME, shipped=False)) is None
    assert starting_of(Regime(name="Ours", shipped=True)) is None
    Regime.objects.filter(pk=regime.pk).update(shipped=False)
    regime.refresh_from_db()
    with pytest.raises(Refusal) as refused:
        taken(brewer, regime)
    assert refused.value.code == "not_shipped"


def test_edited_regime_differs_where_it_was_edited(regime: Regime) -> None:
    changed = [(one.title, one.change) for one in compared(regime).steps if one.change != "same"]
    assert changed == [("Pre-rinse", "edited"), ("Drain", "only shipped")]


def test_version_that_was_never_used_is_written_anew(regime: Regime, brewer: User) -> None:
    version = taken(brewer, regime)
    assert (version.number, version.change_note) == (1, "Shipped wording taken")
    assert not compared(regime)
    signature = Signature.objects.latest("pk")
    assert (signature.user, signature.meaning) == (brewer, f"Edited the regime {NAME}")


def test_version_that_was_used_stays_and_the_next_has_the_wording(
    regime: Regime, brewer: User
) -> None:
    cellar = Cellar()
    cellar.vessel, cellar.version = make_vessel(kind="yeast_vessel"), current(regime)
    clean = cellar.started(cellar.emptied())
    RegimeVersion.objects.filter(regime=regime).update(provenance="As it was shipped then")
    version = taken(brewer, regime)
    assert (version.number, version.current) == (2, True)
    starting = starting_of(regime)
    assert starting is not None
    assert version.provenance == starting.provenance
    old = RegimeVersion.objects.get(pk=clean.version_id)
    assert (old.number, old.current, old.steps.count()) == (1, False, version.steps.count() - 1)
    assert old.provenance == "As it was shipped then"
    assert not compared(regime)


def test_kinds_of_vessel_are_added_and_those_of_the_site_stay(regime: Regime, brewer: User) -> None:
    Regime.objects.filter(pk=regime.pk).update(vessel_kinds=["keg"])
    regime.refresh_from_db()
    assert compared(regime).kinds_added == ["yeast vessel"]
    taken(brewer, regime)
    regime.refresh_from_db()
    assert sorted(regime.vessel_kinds) == ["keg", "yeast_vessel"]


def test_agents_of_the_site_are_used_by_name(regime: Regime, brewer: User) -> None:
    Agent.objects.filter(name="Peracetic acid 15 %").update(concentrate_strength_ww=12)
    taken(brewer, regime)
    used = {s.agent.pk for s in current(regime).steps.all() if s.agent is not None}
    assert used <= set(Agent.objects.values_list("pk", flat=True))
    assert Agent.objects.count() == len(agents_as_shipped())


@pytest.mark.parametrize(
    ("values", "field", "code"),
    [
        ({"password": ""}, "password", "no_password"),
        ({"password": "not-mine"}, "password", "bad_password"),
        ({"seen": "0123456789abcdef"}, None, "stale"),
    ],
)
def test_nothing_is_taken_unsigned_or_unseen(
    regime: Regime, brewer: User, values: dict[str, str], field: str | None, code: str
) -> None:
    before = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        taken(brewer, regime, **values)
    assert (refused.value.field, refused.value.code) == (field, code)
    assert Entry.objects.count() == before
    assert compared(regime)


def test_what_is_the_same_is_not_taken_and_a_hand_takes_nothing(
    regime: Regime, brewer: User
) -> None:
    with pytest.raises(NotAllowed):
        taken(make_cellar_hand(), regime)
    taken(brewer, regime)
    with pytest.raises(Refusal) as refused:
        taken(brewer, regime)
    assert refused.value.code == "same"


def test_page_shows_what_differs_and_takes_it(regime: Regime, brewer: User) -> None:
    client = signed_in(brewer)
    url = reverse("regimes:shipped_regime", args=[regime.pk])
    assert url in client.get(reverse("regimes:regime", args=[regime.pk])).content.decode()
    page = client.get(url)
    text = page.content.decode()
    for words in ("As we do it", "only shipped", "never used, so it is written anew"):
        assert words in text
    seen = page.context["form"]["seen"].value()
    refused = client.post(url, {"seen": seen, "password": "not-mine"})
    assert (refused.status_code, list(refused.context["form"].errors)) == (422, ["password"])
    answer = client.post(url, {"seen": seen, "password": PASSWORD})
    assert (answer.status_code, answer.url) == (302, reverse("regimes:regime", args=[regime.pk]))
    assert "There is nothing to take" in client.get(url).content.decode()


def test_page_is_the_head_brewers_and_of_shipped_regimes_only(regime: Regime, brewer: User) -> None:
    url = reverse("regimes:shipped_regime", args=[regime.pk])
    assert signed_in(make_cellar_hand()).get(url).status_code == 403
    client = signed_in(brewer)
    Regime.objects.filter(pk=regime.pk).update(shipped=False)
    assert client.get(url).status_code == 404
    assert url not in client.get(reverse("regimes:regime", args=[regime.pk])).content.decode()


def test_list_names_what_is_not_as_shipped_to_who_may_take_it(regime: Regime, brewer: User) -> None:
    url, own = reverse("regimes:regimes"), reverse("regimes:shipped_regime", args=[regime.pk])
    page = signed_in(brewer).get(url)
    assert list(page.context["otherwise"]) == [regime]
    assert own in page.content.decode()
    assert page.content.decode().count("not as shipped") == 1
    assert own not in signed_in(make_cellar_hand()).get(url).content.decode()
    Regime.objects.filter(pk=regime.pk).update(active=False)
    assert own not in signed_in(brewer).get(url).content.decode()
    Regime.objects.filter(pk=regime.pk).update(active=True)
    taken(brewer, regime)
    assert own not in signed_in(brewer).get(url).content.decode()
