"""Rules change with the password of the one who changes them, whoever calls the action."""

from collections.abc import Callable
from typing import Any, NamedTuple

import pytest

from brewhygiene.atp.limits import actions as limits
from brewhygiene.cellar.hold_times.actions import Hours, set_hold_times
from brewhygiene.cellar.models import HoldClock, SamplingPoint
from brewhygiene.cellar.points import actions as points
from brewhygiene.ledger.models import Binding, Entry
from brewhygiene.ledger.recording import Actor
from brewhygiene.people import actions as people
from brewhygiene.people.models import Signature, User
from brewhygiene.refusals import Refusal
from brewhygiene.regimes import actions as regimes
from brewhygiene.regimes.about import About
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.library.install import install_library
from brewhygiene.regimes.library.regimes import REGIMES
from brewhygiene.regimes.models import Regime
from brewhygiene.setup.actions import set_release_rules
from tests.factories import PASSWORD, Cellar, acting, make_limits

pytestmark = pytest.mark.django_db
RINSE = StepDraft("rinse", windows=(WindowDraft("time_min", 5, 10, 20, source=COMMON_PRACTICE),))
ABOUT = About(name="Tank", vessel_kinds=["fermenter"])


class House(NamedTuple):
    """What the rules are about."""

    cellar: Cellar
    regime: Regime
    limits: Any

    @property
    def point(self) -> SamplingPoint:
        return self.cellar.point


@pytest.fixture
def house() -> House:
    cellar = Cellar()
    regime = regimes.create_regime(
        by=acting(cellar.brewer), about=ABOUT, steps=[RINSE], password=PASSWORD
    )
    return House(
        cellar, regime, make_limits(by=cellar.brewer, meter=cellar.meter, atp_test=cellar.atp_test)
    )


Change = Callable[[House, Actor, str], Any]
RULES: dict[str, tuple[Change, str]] = {
    "release rules": (
        lambda house, by, password: set_release_rules(
            by=by, self_release_allowed=False, waivable_gates=[], password=password
        ),
        "Set the release rules",
    ),
    "hold times": (
        lambda house, by, password: set_hold_times(
            by=by, hold_times={"keg": Hours(12, 48, 4)}, password=password
        ),
        "Set hold times",
    ),
    "new point": (
        lambda house, by, password: points.add_point(
            by=by,
            vessel=house.cellar.vessel,
            name="Arm",
            sample_kind="rinse",
            password=password,
        ),
        "Added a sampling point of {vessel}",
    ),
    "required point": (
        lambda house, by, password: points.edit_point(
            by=by,
            point=house.point,
            name=house.point.name,
            sample_kind=house.point.sample_kind,
            required_for_release=False,
            password=password,
        ),
        "Edited the sampling point {point}",
    ),
    "retired point": (
        lambda house, by, password: points.retire_point(
            by=by, point=house.point, password=password
        ),
        "Retired the sampling point {point}",
    ),
    "new regime": (
        lambda house, by, password: regimes.create_regime(
            by=by, about=About("Keg", ["keg"]), steps=[RINSE], password=password
        ),
        "Added the regime Keg",
    ),
    "changed regime": (
        lambda house, by, password: regimes.save_regime_version(
            by=by,
            regime=house.regime,
            about=ABOUT,
            steps=[RINSE, StepDraft("drain")],
            password=password,
        ),
        "Edited the regime Tank",
    ),
    "copied regime": (
        lambda house, by, password: regimes.copy_regime(
            by=by, regime=house.regime, name="Other", password=password
        ),
        "Copied the regime Tank",
    ),
    "retired regime": (
        lambda house, by, password: regimes.retire_regime(
            by=by, regime=house.regime, password=password
        ),
        "Retired the regime Tank",
    ),
    "retired limits": (
        lambda house, by, password: limits.retire_limits(
            by=by, limits=house.limits, password=password
        ),
        "Retired limits {limits}",
    ),
}
each_rule = pytest.mark.parametrize("rule", RULES)


@each_rule
def test_rule_changes_with_a_signature_in_the_same_entry(house: House, rule: str) -> None:
    change, meaning = RULES[rule]
    before = Entry.objects.count()
    change(house, acting(house.cellar.brewer), PASSWORD)
    entry = Entry.objects.get(number=before + 1)
    signature = Signature.objects.latest("pk")
    assert (signature.user, signature.printed_name, signature.meaning) == (
        house.cellar.brewer,
        house.cellar.brewer.display_name,
        meaning.format(vessel=house.cellar.vessel, point=house.point, limits=house.limits),
    )
    table = Signature._meta.db_table
    assert Binding.objects.filter(entry=entry, table=table, row=signature.pk).count() == 1


@each_rule
@pytest.mark.parametrize(
    "password, code", [("", "no_password"), ("not-my-password", "bad_password")]
)
def test_rule_does_not_change_without_the_password(
    house: House, rule: str, password: str, code: str
) -> None:
    change, _ = RULES[rule]
    entries, signatures = Entry.objects.count(), Signature.objects.count()
    with pytest.raises(Refusal) as refused:
        change(house, acting(house.cellar.brewer), password)
    assert (refused.value.field, refused.value.code) == ("password", code)
    assert (Entry.objects.count(), Signature.objects.count()) == (entries, signatures)


@each_rule
def test_rule_does_not_change_by_a_password_that_another_knows(house: House, rule: str) -> None:
    change, _ = RULES[rule]
    User.objects.filter(pk=house.cellar.brewer.pk).update(password_set_by="Tomas Brandt")
    brewer = User.objects.get(pk=house.cellar.brewer.pk)
    with pytest.raises(Refusal) as refused:
        change(house, acting(brewer), PASSWORD)
    assert (refused.value.field, refused.value.code) == ("password", "not_own_password")


def test_what_was_retired_comes_back_with_the_password_only(house: House) -> None:
    by = acting(house.cellar.brewer)
    regimes.retire_regime(by=by, regime=house.regime, password=PASSWORD)
    points.retire_point(by=by, point=house.point, password=PASSWORD)
    for bring_back in (
        lambda password: regimes.reinstate_regime(by=by, regime=house.regime, password=password),
        lambda password: points.reinstate_point(by=by, point=house.point, password=password),
    ):
        with pytest.raises(Refusal) as refused:
            bring_back("not-my-password")
        assert refused.value.code == "bad_password"
        assert bring_back(PASSWORD).active
        assert Signature.objects.latest("pk").meaning.startswith("Reinstated the ")


def test_each_starting_regime_is_signed_for(house: House) -> None:
    by = acting(house.cellar.brewer)
    with pytest.raises(Refusal) as refused:
        install_library(by=by, password="not-my-password")
    assert refused.value.code == "bad_password"
    assert list(Regime.objects.filter(shipped=True)) == []
    install_library(by=by, password=PASSWORD)
    meanings = Signature.objects.filter(meaning__startswith="Added the regime ").order_by("pk")
    assert list(meanings.values_list("meaning", flat=True))[-len(REGIMES) :] == [
        f"Added the regime {starting.about.name}" for starting in REGIMES
    ]


PEOPLE: dict[str, Callable[[Cellar, Actor, str], Any]] = {
    "add": lambda cellar, by, password: people.add_person(
        by=by,
        username="priya",
        full_name="Priya Lindqvist",
        initials="PL",
        roles=["cellar"],
        new_password="rubber-boots-9",
        password=password,
    ),
    "edit": lambda cellar, by, password: people.edit_person(
        by=by,
        person=cellar.hand,
        full_name="Other",
        initials="OT",
        roles=["head brewer"],
        is_active=True,
        password=password,
    ),
    "password": lambda cellar, by, password: people.set_password(
        by=by, person=cellar.hand, new_password="rubber-boots-9", password=password
    ),
    "forget": lambda cellar, by, password: people.forget_name(
        by=by, person=cellar.hand, password=password
    ),
    "own PIN": lambda cellar, by, password: people.set_own_pin(
        by=by, new_pin="5093", password=password
    ),
}


@pytest.mark.parametrize("deed", PEOPLE)
def test_people_change_with_the_password_only(deed: str) -> None:
    cellar = Cellar()
    entries = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        PEOPLE[deed](cellar, acting(cellar.brewer), "not-my-password")
    assert (refused.value.field, refused.value.code) == ("password", "bad_password")
    User.objects.filter(pk=cellar.brewer.pk).update(password_set_by="Tomas Brandt")
    with pytest.raises(Refusal) as known:
        PEOPLE[deed](cellar, acting(User.objects.get(pk=cellar.brewer.pk)), PASSWORD)
    assert (known.value.field, known.value.code) == ("password", "not_own_password")
    assert Entry.objects.count() == entries


def test_password_that_another_set_is_changed_by_its_owner_who_then_signs(house: House) -> None:
    User.objects.filter(pk=house.cellar.brewer.pk).update(password_set_by="Tomas Brandt")
    brewer = User.objects.get(pk=house.cellar.brewer.pk)
    with pytest.raises(Refusal) as refused:
        people.change_own_password(
            by=acting(brewer), new_password="one-of-my-own", password="not-my-password"
        )
    assert refused.value.code == "bad_password"
    people.change_own_password(by=acting(brewer), new_password="one-of-my-own", password=PASSWORD)
    by = acting(User.objects.get(pk=brewer.pk))
    set_hold_times(by=by, hold_times={"keg": Hours(12, 48, 4)}, password="one-of-my-own")
    assert HoldClock.objects.get(vessel_kind="keg").dirty_hold_h == 12
