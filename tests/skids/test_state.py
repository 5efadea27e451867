"""How a solution stands: strength, uses, age, and the rule by which it is dumped. No database."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.regimes.models import Agent
from brewhygiene.skids.models import Solution, SolutionCheck, SolutionTank, SolutionTopUp
from brewhygiene.skids.questions import StrengthRead, Use
from brewhygiene.skids.state import SolutionState, rule_words
from tests.factories import NOW

MADE = NOW - timedelta(days=3)


def tank(**rule: Any) -> SolutionTank:
    return SolutionTank(**{"pk": 1, "name": "Caustic tank 1", "dump_soiled": False, **rule})


def use(number: int = 1, **values: Any) -> Use:
    return Use(
        **{
            "clean": number,
            "step": number,
            "vessel": "FV 3",
            "step_words": "2. caustic",
            "started_at": MADE + timedelta(hours=number),
            "ended_at": MADE + timedelta(hours=number, minutes=30),
            "by": "Jonas Feld",
            "outflow": "back to the tank",
            "returned": True,
            "counts": True,
            **values,
        }
    )


def check(hours_ago: float = 48, **values: Any) -> SolutionCheck:
    return SolutionCheck(taken_at=NOW - timedelta(hours=hours_ago), source="read", **values)


def titrated(strength: float = 1.9, share: float = 26, hours_ago: float = 48) -> SolutionCheck:
    return check(
        hours_ago,
        strength=strength,
        basis="wv",
        carbonate_wv=0.5,
        carbonate_percent=share,
        titration={"method": "titration"},
    )


def state(
    *,
    checks: Any = (),
    top_ups: Any = (),
    used: Any = (),
    made_at: Any = MADE,
    source: str = "calculated",
    amount_kg: float | None = 16,
    **rule: Any,
) -> SolutionState:
    made = Solution(
        pk=1,
        tank=tank(**rule),
        agent=Agent(name="Caustic liquor"),
        agent_lot="C-1",
        amount_kg=amount_kg,
        volume_l=400,
        strength=2,
        basis="ww",
        source=source,
        made_at=made_at,
    )
    return SolutionState(made, list(checks), list(top_ups), list(used), NOW)


def test_the_step_says_which_solution_and_how_strong_it_last_was() -> None:
    six = [use(number) for number in range(1, 7)]
    assert state(checks=[titrated()], used=six).words == (
        "Caustic tank 1: 1.9 % w/v, titrated 2 days ago, 6 uses"
    )


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("calculated", "made up 3 days ago, 0 uses"),
        ("read", "read when made up 3 days ago, 0 uses"),
    ],
)
def test_a_fresh_solution_is_as_strong_as_it_was_made_up(source: str, said: str) -> None:
    assert state(source=source).words == f"Caustic tank 1: 2 % w/w, {said}"


def test_a_reading_in_a_step_counts_as_the_tanks_own() -> None:
    read = StrengthRead(1.7, "ww", False, "read", NOW - timedelta(hours=5))
    shown = state(checks=[titrated()], used=[use(strengths=[read])]).words
    assert shown == "Caustic tank 1: 1.7 % w/w, read 5 h ago, 1 use"
    # What only came back says nothing of how strong it is.
    back = use(strengths=[read], drew=False)
    assert state(checks=[titrated()], used=[back]).strength.value == 1.9


def test_what_prolongs_a_step_or_only_gave_back_is_no_use() -> None:
    assert state(used=[use(1), use(2, counts=False), use(3, drew=False), use(4)]).uses == 2


def test_after_a_top_up_the_strength_is_to_be_read_again() -> None:
    at = NOW - timedelta(hours=48)
    added = SolutionTopUp(amount_kg=2, added_at=at)
    later = SolutionTopUp(amount_kg=2, added_at=at + timedelta(hours=1))
    earlier = SolutionTopUp(amount_kg=2, added_at=at - timedelta(seconds=1))
    assert state(checks=[titrated()], top_ups=[later]).words == (
        "Caustic tank 1: 1.9 % w/v, titrated 2 days ago, topped up since, 0 uses"
    )
    assert state(checks=[titrated()], top_ups=[added]).topped_up_since
    assert not state(checks=[titrated()], top_ups=[earlier]).topped_up_since


@pytest.mark.parametrize(("uses", "past"), [(2, []), (3, ["3 uses, and the rule allows 3"])])
def test_rule_of_uses_ends_with_the_last_that_it_allows(uses: int, past: list[str]) -> None:
    assert state(used=[use(n) for n in range(uses)], most_uses=3).past_rule == past


def test_rule_of_days_is_passed_after_the_last_day() -> None:
    assert state(most_days=3).past_rule == []
    older = state(made_at=MADE - timedelta(seconds=1), most_days=3)
    assert older.past_rule == ["made up 3 days ago, and the rule allows 3 days"]


@pytest.mark.parametrize("share, past", [(50, []), (50.1, ["50"])])
def test_rule_of_carbonate_looks_at_the_latest_titration(share: float, past: list[str]) -> None:
    found = state(
        checks=[titrated(share=90), titrated(share=share)], most_carbonate_percent=50
    ).past_rule
    expected = [
        f"carbonate is {number} % of the alkalinity, and the rule allows 50 %" for number in past
    ]
    assert found == expected
    assert state(checks=[check(soiled=False)], most_carbonate_percent=50).past_rule == []


def test_soil_that_was_seen_stays_seen() -> None:
    seen = [check(soiled=True), check(hours_ago=1, soiled=False)]
    assert state(checks=seen, dump_soiled=True).past_rule == ["soil was seen in it"]
    assert state(checks=seen, dump_soiled=False).past_rule == []
    assert state(checks=[check(soiled=False)], dump_soiled=True).past_rule == []


def test_what_took_back_an_allergen_must_be_dumped() -> None:
    assert state(used=[use()]).must_dump == ""
    assert state(used=[use(1), use(2, carries="Went back to the tank.")]).must_dump == (
        "It took back what was in FV 3. Went back to the tank."
    )


def test_the_agent_of_make_up_and_every_top_up_is_added() -> None:
    added = [SolutionTopUp(amount_kg=2, added_at=NOW), SolutionTopUp(water_l=50, added_at=NOW)]
    assert state(top_ups=added, used=[use(added_kg=1.5), use(added_kg=0.5)]).added_kg == 20
    assert state(top_ups=added, amount_kg=None).added_kg is None


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ({}, "No rule"),
        ({"dump_soiled": True}, "Once soil is seen"),
        ({"most_uses": 1}, "After 1 use"),
        (
            {"most_uses": 20, "most_days": 7, "most_carbonate_percent": 50, "dump_soiled": True},
            "After 20 uses, after 7 days, above 50 % carbonate, or once soil is seen",
        ),
    ],
)
def test_a_rule_in_one_line(rule: dict[str, Any], words: str) -> None:
    assert rule_words(tank(**rule)) == words
