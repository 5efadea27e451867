"""Run rules at their very edges: where a pattern begins, ends, and is only just none."""

import pytest

from brewhygiene.science.control.rules import (
    ALTERNATING_14,
    BEYOND_3,
    FOUR_OF_FIVE,
    OUTSIDE_8,
    RULE_SETS,
    SIDE_8,
    SIDE_9,
    TREND_6,
    TWO_OF_THREE,
    WITHIN_15,
    RunRule,
    run_rules,
    same_side,
)
from brewhygiene.science.errors import OutOfRange


def flags(z: list[float], *rules: RunRule) -> list[tuple[str, int, int, bool | None]]:
    """Each as the rule's code, its place, where the pattern began, and which way."""
    return [(flag.rule.code, flag.at, flag.since, flag.up) for flag in run_rules(z, rules)]


def turned(z: list[float]) -> list[float]:
    """The same readings on the other side of the centre."""
    return [-value for value in z]


SAW = [0.5, -0.5]

# The shortest pattern that completes each rule, and where it begins.
COMPLETE: list[tuple[RunRule, list[float], int]] = [
    (BEYOND_3, [3.01], 0),
    (TWO_OF_THREE, [2.01, 2.01], 0),
    (TWO_OF_THREE, [2.01, 0, 2.01], 0),
    (TWO_OF_THREE, [0, 2.01, -5, 2.01], 1),
    (TWO_OF_THREE, [2.01, 0, 0, 2.01, 2.01], 3),
    (FOUR_OF_FIVE, [1.01] * 4, 0),
    (FOUR_OF_FIVE, [1.01, 0, 1.01, 1.01, 1.01], 0),
    (FOUR_OF_FIVE, [1.01, 0, 0, 1.01, 1.01, 1.01, 1.01], 3),
    (SIDE_8, [0.01] * 8, 0),
    (SIDE_8, [-1, *[0.01] * 8], 1),
    (SIDE_9, [0.01] * 9, 0),
    (TREND_6, [0, 1, 2, 3, 4, 5], 0),
    (TREND_6, [7, 7, 7.1, 7.2, 7.3, 7.4, 7.5], 1),
    (TREND_6, [3, 0, 1, 2, 3, 4, 5], 1),
]
# The same of the patterns that have no side.
COMPLETE_EITHER_WAY: list[tuple[RunRule, list[float], int]] = [
    (ALTERNATING_14, SAW * 7, 0),
    (ALTERNATING_14, [0.6, *SAW * 7], 1),
    (ALTERNATING_14, [0.5, *SAW * 7], 1),
    (WITHIN_15, [0.99, *[0] * 13, -0.99], 0),
    (WITHIN_15, [1, *[0.99] * 15], 1),
    (OUTSIDE_8, [1.01, -1.01] * 4, 0),
    (OUTSIDE_8, [-1, *[1.01, -1.01] * 4], 1),
]
# A reading on a line is not beyond it, one on the centre is on no side, one that repeats the last
# neither rises nor falls; and one reading too few is none.
NOT_COMPLETE: list[tuple[RunRule, list[float]]] = [
    (BEYOND_3, [3, 3, 3]),
    (TWO_OF_THREE, [2.01]),
    (TWO_OF_THREE, [2, 2, 2]),
    (TWO_OF_THREE, [2.01, -2.01, 0]),
    (TWO_OF_THREE, [2.01, 0, 0, 2.01]),
    (TWO_OF_THREE, [2.01, 2, 2]),
    (FOUR_OF_FIVE, [1.01] * 3),
    (FOUR_OF_FIVE, [1] * 9),
    (FOUR_OF_FIVE, [1.01, 1.01, 0, 0, 1.01, 1.01]),
    (FOUR_OF_FIVE, [1.01, 1.01, -1.01, 1.01, -1.01]),
    (SIDE_8, [0.01] * 7),
    (SIDE_8, [*[1] * 4, 0, *[1] * 7]),
    (SIDE_8, [0] * 20),
    (SIDE_8, [*[1] * 7, -1]),
    (SIDE_9, [0.01] * 8),
    (TREND_6, [0, 1, 2, 3, 4]),
    (TREND_6, [0, 1, 2, 2, 3, 4, 5]),
    (TREND_6, [0, 1, 2, 3, 4, 3, 2]),
    (TREND_6, [1] * 20),
    (ALTERNATING_14, (SAW * 7)[:13]),
    (ALTERNATING_14, [*SAW * 4, -0.5, *SAW * 4]),
    (ALTERNATING_14, [*SAW * 4, -0.6, *SAW * 4]),
    (ALTERNATING_14, [0] * 20),
    (WITHIN_15, [0.5] * 14),
    (WITHIN_15, [*[0.5] * 7, 1, *[0.5] * 7]),
    (WITHIN_15, [*[0.5] * 7, -1, *[0.5] * 7]),
    (OUTSIDE_8, [1.01, -1.01] * 3 + [1.01]),
    (OUTSIDE_8, [1, -1] * 8),
]


def named(one: object) -> str:
    return one.code if isinstance(one, RunRule) else ""


@pytest.mark.parametrize("rule, z, since", COMPLETE, ids=named)
def test_the_last_reading_of_a_pattern_completes_it_on_its_own_side(
    rule: RunRule, z: list[float], since: int
) -> None:
    assert flags(z, rule) == [(rule.code, len(z) - 1, since, True)]
    assert flags(turned(z), rule) == [(rule.code, len(z) - 1, since, False)]


@pytest.mark.parametrize("rule, z, since", COMPLETE_EITHER_WAY, ids=named)
def test_a_pattern_without_a_side_is_completed_either_way(
    rule: RunRule, z: list[float], since: int
) -> None:
    for sequence in (z, turned(z)):
        assert flags(sequence, rule) == [(rule.code, len(z) - 1, since, None)]


@pytest.mark.parametrize("rule, z", NOT_COMPLETE, ids=named)
def test_what_is_only_just_no_pattern_is_none(rule: RunRule, z: list[float]) -> None:
    assert flags(z, rule) == []
    assert flags(turned(z), rule) == []


@pytest.mark.parametrize(
    "rule, z, found",
    [
        (SIDE_8, [1] * 10, [(7, 0), (8, 0), (9, 0)]),
        (TREND_6, list(range(8)), [(5, 0), (6, 0), (7, 0)]),
        (ALTERNATING_14, SAW * 8, [(13, 0), (14, 0), (15, 0)]),
        (WITHIN_15, [0] * 17, [(14, 0), (15, 0), (16, 0)]),
        # Of m of n, the pattern moves on with the readings; each names its own beginning.
        (TWO_OF_THREE, [2.5, 2.5, 0, 2.5], [(1, 0), (3, 1)]),
        (FOUR_OF_FIVE, [1.5] * 6, [(3, 0), (4, 1), (5, 2)]),
    ],
    ids=named,
)
def test_a_pattern_that_goes_on_is_told_at_every_reading(
    rule: RunRule, z: list[float], found: list[tuple[int, int]]
) -> None:
    assert [(at, since) for _, at, since, _ in flags(z, rule)] == found


def test_flags_of_several_rules_come_in_the_order_of_readings() -> None:
    z = [2.5, 2.5, 3.5, -3.5]
    assert flags(z, BEYOND_3, TWO_OF_THREE) == [
        ("2_of_3", 1, 0, True),
        ("beyond_3", 2, 2, True),
        ("2_of_3", 2, 1, True),
        ("beyond_3", 3, 3, False),
    ]


@pytest.mark.parametrize(
    "code, used",
    [
        ("three_sigma", {"beyond_3"}),
        ("western_electric", {"beyond_3", "2_of_3", "4_of_5", "side_8"}),
        ("nist", {"beyond_3", "2_of_3", "4_of_5", "side_8", "trend_6", "alternating_14"}),
        (
            "nelson",
            {
                "beyond_3",
                "2_of_3",
                "4_of_5",
                "side_9",
                "trend_6",
                "alternating_14",
                "within_15",
                "outside_8",
            },
        ),
    ],
)
def test_each_set_flags_its_own_patterns_and_no_others(code: str, used: set[str]) -> None:
    patterns = [*COMPLETE, *COMPLETE_EITHER_WAY]
    flagged = {
        flag[0]
        for rule, z, _ in patterns
        for flag in flags(z, *RULE_SETS[code].rules)
        if flag[0] == rule.code
    }
    assert flagged == {rule.code for rule in RULE_SETS[code].rules} == used
    assert RULE_SETS[code].code == code


def test_a_rule_says_in_words_how_many_and_how_far() -> None:
    assert (same_side(7).code, same_side(7).words) == (
        "side_7",
        "7 readings in a row on one side of the centre",
    )
    assert flags([1] * 7, same_side(7)) == [("side_7", 6, 0, True)]


@pytest.mark.parametrize("n, m", [(3, 0), (3, 4), (0, 0), (0, 1), (-1, 1)])
def test_a_rule_that_no_readings_could_complete_is_refused(n: int, m: int) -> None:
    with pytest.raises(OutOfRange, match=f"needs {m} of {n} readings"):
        run_rules([0.0, 5.0], [RunRule("odd", "odd", "beyond", n, m, 1.0)])


@pytest.mark.parametrize("n", [0, -3])
def test_a_run_of_no_readings_is_refused_and_of_one_is_not(n: int) -> None:
    with pytest.raises(OutOfRange):
        run_rules([1.0], [same_side(n)])
    assert flags([1.0], same_side(1)) == [("side_1", 0, 0, True)]
    assert flags([1.5], RunRule("1_of_1", "", "beyond", 1, 1, 1.0)) == [("1_of_1", 0, 0, True)]
    assert flags([1.5] * 2, RunRule("2_of_2", "", "beyond", 2, 2, 1.0)) == [("2_of_2", 1, 0, True)]
