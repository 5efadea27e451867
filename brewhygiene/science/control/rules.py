"""Run rules: patterns in single readings that chance alone rarely makes.

Every rule compares strictly: a reading exactly on a line is not beyond it, and one on the centre
line ends a run. Which of them are used is the site's choice; each makes false alarms of its own.
"""

import dataclasses
import itertools
import operator
from collections.abc import Callable, Iterable, Sequence
from typing import Literal

from brewhygiene.science.errors import OutOfRange

Kind = Literal["beyond", "same_side", "trend", "alternating", "within", "outside"]


@dataclasses.dataclass(frozen=True)
class RunRule:
    """``m`` of ``n`` readings in a row ``beyond`` so many sigmas on one side, or a pattern.

    ``kind``: *beyond* (m of n beyond ``sigmas`` on one side), *same_side* (n in a row on one side
    of the centre), *trend* (n in a row each higher, or each lower, than the last), *alternating*
    (n in a row up and down in turn), *within* (n in a row within ``sigmas``) or *outside* (n in a
    row beyond ``sigmas``, on either side).
    """

    code: str
    words: str
    kind: Kind
    n: int
    m: int = 0
    sigmas: float = 0.0


@dataclasses.dataclass(frozen=True)
class Flag:
    """A rule that a reading completes: its place, where the pattern began, and which way.

    ``up`` is ``None`` for a pattern without a side.
    """

    rule: RunRule
    at: int
    since: int
    up: bool | None


BEYOND_3 = RunRule("beyond_3", "one reading beyond 3 sigmas", "beyond", 1, 1, 3.0)
TWO_OF_THREE = RunRule("2_of_3", "2 of 3 readings beyond 2 sigmas on one side", "beyond", 3, 2, 2.0)
FOUR_OF_FIVE = RunRule("4_of_5", "4 of 5 readings beyond 1 sigma on one side", "beyond", 5, 4, 1.0)


def same_side(n: int) -> RunRule:
    """``n`` readings in a row on one side of the centre: 7, 8 and 9 are all in use."""
    return RunRule(f"side_{n}", f"{n} readings in a row on one side of the centre", "same_side", n)


SIDE_8, SIDE_9 = same_side(8), same_side(9)
TREND_6 = RunRule("trend_6", "6 readings in a row rising, or falling", "trend", 6)
ALTERNATING_14 = RunRule(
    "alternating_14", "14 readings in a row up and down in turn", "alternating", 14
)
WITHIN_15 = RunRule("within_15", "15 readings in a row within 1 sigma", "within", 15, sigmas=1.0)
OUTSIDE_8 = RunRule(
    "outside_8", "8 readings in a row beyond 1 sigma, on either side", "outside", 8, sigmas=1.0
)


@dataclasses.dataclass(frozen=True)
class RuleSet:
    """Rules used together, with where the set comes from."""

    code: str
    name: str
    rules: tuple[RunRule, ...]
    source: str


RULE_SETS = {
    one.code: one
    for one in (
        RuleSet(
            "three_sigma",
            "Beyond 3 sigmas only",
            (BEYOND_3,),
            "the first rule of every set",
        ),
        RuleSet(
            "western_electric",
            "Western Electric, four zone rules",
            (BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE, SIDE_8),
            "Western Electric, Statistical Quality Control Handbook (1956), from memory; "
            "NIST/SEMATECH e-Handbook 6.3.2",
        ),
        RuleSet(
            "nist",
            "NIST handbook: zones, trends, alternation",
            (BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE, SIDE_8, TREND_6, ALTERNATING_14),
            "NIST/SEMATECH e-Handbook of Statistical Methods (2012), 6.3.2, from memory",
        ),
        RuleSet(
            "nelson",
            "Nelson, eight tests",
            (
                BEYOND_3,
                SIDE_9,
                TREND_6,
                ALTERNATING_14,
                TWO_OF_THREE,
                FOUR_OF_FIVE,
                WITHIN_15,
                OUTSIDE_8,
            ),
            "Nelson L.S., J. Quality Technology 16(4) (1984) 237-239, from memory",
        ),
    )
}


def run_rules(z: Sequence[float], rules: Iterable[RunRule]) -> tuple[Flag, ...]:
    """Every place at which a rule's pattern is complete, in the order of places.

    ``z`` are readings in sigmas from the centre. Of m of n, only a reading that is beyond the
    line itself completes the pattern. Raises :class:`OutOfRange` for a rule that cannot be.

    >>> [flag.at for flag in run_rules([0.1, 2.1, 0.3, 2.2, -0.2], [TWO_OF_THREE])]
    [3]

    References
    ----------
    .. [1] Nelson L.S., J. Quality Technology 16(4) (1984) 237-239 (from memory).
    """
    found: list[Flag] = []
    for rule in rules:
        if rule.n < 1 or (rule.kind == "beyond" and not 1 <= rule.m <= rule.n):
            raise OutOfRange(f"The rule “{rule.words}” needs {rule.m} of {rule.n} readings.")
        found.extend(_FINDERS[rule.kind](z, rule))
    return tuple(sorted(found, key=lambda flag: flag.at))


def _beyond(z: Sequence[float], rule: RunRule) -> Iterable[Flag]:
    for up in (True, False):
        past: list[int] = []
        for i, value in enumerate(z):
            if (value if up else -value) <= rule.sigmas:
                continue
            past.append(i)
            recent = [j for j in past[-rule.n :] if j > i - rule.n]
            if len(recent) >= rule.m:
                yield Flag(rule, i, recent[-rule.m], up)


def _in_a_row(
    rule: RunRule, states: Iterable[int], *, sided: bool = False, steps: bool = False
) -> Iterable[Flag]:
    """``n`` in a row whose state is the same and not 0; of ``steps``, the readings around them."""
    for state, row in itertools.groupby(enumerate(states), key=operator.itemgetter(1)):
        for length, (place, _) in enumerate(row, start=1):
            if state and length + steps >= rule.n:
                yield Flag(rule, place + steps, place - length + 1, state == 1 if sided else None)


def _steps(z: Sequence[float]) -> list[int]:
    """From each reading to the next: 1 up, -1 down, 0 level."""
    return [(b > a) - (b < a) for a, b in itertools.pairwise(z)]


def _side(z: Sequence[float], rule: RunRule) -> Iterable[Flag]:
    return _in_a_row(rule, [(value > 0) - (value < 0) for value in z], sided=True)


def _within(z: Sequence[float], rule: RunRule) -> Iterable[Flag]:
    return _in_a_row(rule, [abs(value) < rule.sigmas for value in z])


def _outside(z: Sequence[float], rule: RunRule) -> Iterable[Flag]:
    return _in_a_row(rule, [abs(value) > rule.sigmas for value in z])


def _trend(z: Sequence[float], rule: RunRule) -> Iterable[Flag]:
    return _in_a_row(rule, _steps(z), sided=True, steps=True)


def _alternating(z: Sequence[float], rule: RunRule) -> Iterable[Flag]:
    # Every other step turned round: what goes up and down in turn then goes one way.
    turned = [step * (-1) ** i for i, step in enumerate(_steps(z))]
    return _in_a_row(rule, turned, steps=True)


_FINDERS: dict[Kind, Callable[[Sequence[float], RunRule], Iterable[Flag]]] = {
    "beyond": _beyond,
    "same_side": _side,
    "trend": _trend,
    "alternating": _alternating,
    "within": _within,
    "outside": _outside,
}
