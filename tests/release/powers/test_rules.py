"""The rules in force, in words: every sentence, for every choice of a brewery."""

import pytest

from brewhygiene.brewery.models import Brewery, default_waivable_gates
from brewhygiene.release.gates import GATE_TITLES, NEVER_WAIVABLE, TWO_SIGN
from brewhygiene.release.powers.rules import (
    EXPLAINED,
    OVER_ACTION,
    UNJUDGED,
    WITHOUT_METER,
    looser_than_shipped,
    rules_in_force,
)

OTHERS = sorted(GATE_TITLES.keys() - NEVER_WAIVABLE - TWO_SIGN)


def brewery(*waivable: str, self_release: bool = False) -> Brewery:
    return Brewery(self_release_allowed=self_release, waivable_gates=list(waivable))


@pytest.mark.parametrize(
    "allowed, said",
    [
        (False, "Whoever cleaned or sampled cannot sign the release."),
        (
            True,
            "Whoever cleaned or sampled can release. It is marked and counted as a self-release.",
        ),
    ],
)
def test_first_says_who_may_sign(allowed: bool, said: str) -> None:
    assert rules_in_force(brewery(self_release=allowed))[0] == said


def test_brewery_that_waives_nothing_says_so() -> None:
    assert rules_in_force(brewery())[1:] == [
        "The head brewer can waive no check.",
        "Over the action limit: re-clean.",
        UNJUDGED,
        WITHOUT_METER,
        EXPLAINED,
    ]


@pytest.mark.parametrize("code", OTHERS)
def test_check_that_can_be_waived_is_named(code: str) -> None:
    assert rules_in_force(brewery(code))[1] == f"The head brewer can waive: “{GATE_TITLES[code]}”."


def test_two_are_named_in_the_order_of_the_checks() -> None:
    first, second = (code for code in GATE_TITLES if code in OTHERS[:2])
    said = rules_in_force(brewery(second, first))[1]
    assert said == (f"The head brewer can waive: “{GATE_TITLES[first]}”, “{GATE_TITLES[second]}”.")


@pytest.mark.parametrize("code", sorted(NEVER_WAIVABLE | TWO_SIGN))
def test_check_that_nobody_waives_alone_is_not_named(code: str) -> None:
    assert rules_in_force(brewery(code))[1] == "The head brewer can waive no check."


def test_two_sign_over_the_action_limit_where_the_brewery_lets_them() -> None:
    assert rules_in_force(brewery(*TWO_SIGN))[2] == OVER_ACTION
    assert rules_in_force(brewery(*TWO_SIGN, OTHERS[0]))[2] == OVER_ACTION
    assert rules_in_force(brewery(OTHERS[0]))[2] == "Over the action limit: re-clean."


def test_shipped_rules_are_not_looser_than_shipped() -> None:
    assert looser_than_shipped(brewery(*default_waivable_gates())) == []
    assert looser_than_shipped(brewery()) == []


def test_self_release_is_looser() -> None:
    assert looser_than_shipped(brewery(self_release=True)) == [
        "Looser than shipped: self-release is allowed."
    ]


@pytest.mark.parametrize("code", sorted(GATE_TITLES))
def test_check_beyond_the_shipped_is_looser(code: str) -> None:
    within = code in default_waivable_gates() or code in NEVER_WAIVABLE
    said = [] if within else [f"Looser than shipped: “{GATE_TITLES[code]}” can be waived."]
    assert looser_than_shipped(brewery(code)) == said
