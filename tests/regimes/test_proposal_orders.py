"""The proposed regime as an order: never weaker than anything asks for. No database."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.cellar.models import Beer, CleanLevel, Vessel
from brewhygiene.regimes.models import Regime, RegimeVersion, Step, StepKind
from brewhygiene.regimes.proposal import (
    Ask,
    Proposal,
    asks_of,
    fits,
    lacks,
    propose,
    reminders_of,
)

KINDS = [StepKind.CAUSTIC, StepKind.ACID, StepKind.SANITISER, StepKind.HOT_WATER]
kinds = st.frozensets(st.sampled_from(KINDS))
levels = st.sampled_from(list(CleanLevel))
asks = st.lists(st.builds(Ask, st.just("vessel"), st.text(max_size=3), levels, kinds), max_size=4)
beers = st.builds(
    Beer,
    name=st.just("Pale"),
    sour_or_mixed=st.booleans(),
    diastatic=st.booleans(),
    allergen=st.sampled_from(["", "milk"]),
    fruit_or_heavy_hops=st.booleans(),
    strict_before=st.booleans(),
)


def version(number: int, level: int, steps: frozenset[str], **regime: object) -> RegimeVersion:
    made = RegimeVersion(
        pk=number,
        number=1,
        regime=Regime(
            pk=number,
            **{
                "name": f"Regime {number}",
                "level": level,
                "vessel_kinds": ["fermenter"],
                "resanitises_only": False,
                **regime,
            },
        ),
    )
    loaded = [
        Step(pk=n, version=made, order=n, kind=kind) for n, kind in enumerate(sorted(steps), 1)
    ]
    for step in loaded:
        step.__dict__["_prefetched_objects_cache"] = {"windows": []}
    made.__dict__["_prefetched_objects_cache"] = {"steps": loaded}
    return made


candidates = st.lists(st.tuples(levels, kinds), min_size=1, max_size=5).map(
    lambda found: [version(n, level, steps) for n, (level, steps) in enumerate(found, 1)]
)


def tank(**values: object) -> Vessel:
    return Vessel(**{"name": "FV1", "kind": "fermenter", "least_level": 2, **values})


def shortfall(proposal: Proposal, of: RegimeVersion) -> tuple[int, int]:
    """How much a version falls short of a proposal: in level, then in kinds of step."""
    steps = {step.kind for step in of.steps.all()}
    return max(0, proposal.level - of.regime.level), len(proposal.needs - steps)


@given(asks=asks, candidates=candidates)
def test_the_proposal_asks_for_the_most_that_anything_asks_for(
    asks: list[Ask], candidates: list[RegimeVersion]
) -> None:
    proposal = propose(vessel=tank(), asks=asks, candidates=candidates)
    assert all(proposal.level >= ask.level and proposal.needs >= ask.needs for ask in asks)
    assert proposal.level == sorted([CleanLevel.LIGHT, *(ask.level for ask in asks)])[-1]
    assert proposal.needs == {kind for ask in asks for kind in ask.needs}


@given(asks=asks, more=asks, candidates=candidates)
def test_another_ask_never_weakens_the_proposal(
    asks: list[Ask], more: list[Ask], candidates: list[RegimeVersion]
) -> None:
    before = propose(vessel=tank(), asks=asks, candidates=candidates)
    then = propose(vessel=tank(), asks=[*asks, *more], candidates=candidates)
    assert then.level >= before.level
    assert then.needs >= before.needs
    assert all(before.is_met_by(one) for one in candidates if then.is_met_by(one))


@given(asks=asks, candidates=candidates, own=st.none() | st.integers(1, 5))
def test_no_candidate_falls_less_short_than_the_one_proposed(
    asks: list[Ask], candidates: list[RegimeVersion], own: int | None
) -> None:
    proposal = propose(vessel=tank(default_regime_id=own), asks=asks, candidates=candidates)
    assert proposal.version is not None
    least = sorted(shortfall(proposal, one) for one in candidates)[0]
    assert shortfall(proposal, proposal.version) == least
    assert proposal.is_met_by(proposal.version) == (least == (0, 0)) == (proposal.unmet == [])


@given(asks=asks, level=levels, steps=kinds)
def test_a_version_meets_a_proposal_exactly_when_it_lacks_nothing(
    asks: list[Ask], level: int, steps: frozenset[str]
) -> None:
    one = version(1, level, steps)
    proposal = propose(vessel=tank(), asks=asks, candidates=[one])
    short = shortfall(proposal, one)
    assert proposal.is_met_by(one) == (short == (0, 0)) == (proposal.lacks_of(one) == [])
    assert len(proposal.lacks_of(one)) == (short[0] > 0) + short[1]


@pytest.mark.parametrize("level", CleanLevel)
@pytest.mark.parametrize("asked", CleanLevel)
def test_a_version_of_a_lower_level_does_not_meet_the_proposal(asked: int, level: int) -> None:
    one = version(1, level, frozenset({StepKind.CAUSTIC}))
    proposal = propose(vessel=tank(), asks=[Ask("vessel", "", asked)], candidates=[one])
    assert proposal.is_met_by(one) == (level >= asked)
    assert proposal.unmet == ([] if level >= asked else [f"only {CleanLevel(level).label}"])


def test_a_version_of_the_level_without_the_step_does_not_meet_the_proposal() -> None:
    needs = frozenset({StepKind.ACID, StepKind.CAUSTIC})
    asked = [Ask("acid", "", needs=needs)]
    for steps, missing in (
        (needs, []),
        (frozenset({StepKind.ACID}), ["no caustic step"]),
        (frozenset({StepKind.CAUSTIC}), ["no acid step"]),
        (frozenset(), ["no acid step", "no caustic step"]),
    ):
        one = version(1, 3, steps)
        proposal = propose(vessel=tank(), asks=asked, candidates=[one])
        assert (proposal.is_met_by(one), proposal.unmet) == (not missing, missing)
    weak = version(1, 1, frozenset())
    assert lacks(weak, level=2, needs=needs) == [
        "only light (acid or rinse only)",
        "no acid step",
        "no caustic step",
    ]


def test_level_goes_before_steps_and_steps_before_the_vessels_own_regime() -> None:
    asked = [Ask("vessel", "", CleanLevel.STRONG, frozenset({StepKind.ACID, StepKind.CAUSTIC}))]
    strong = version(1, 3, frozenset())
    full = version(2, 2, frozenset({StepKind.ACID, StepKind.CAUSTIC}))
    half = version(3, 3, frozenset({StepKind.ACID}))

    def chosen(*found: RegimeVersion, own: int | None = None) -> RegimeVersion | None:
        vessel = tank(default_regime_id=own)
        return propose(vessel=vessel, asks=asked, candidates=found).version

    assert chosen(full, strong, own=2) == strong
    assert chosen(strong, half, own=1) == half


def test_a_level_outweighs_every_kind_of_step_that_there_is() -> None:
    asked = [Ask("vessel", "", CleanLevel.STRONG, frozenset(StepKind))]
    bare, full = version(1, 3, frozenset()), version(2, 2, frozenset(StepKind))
    vessel = tank(default_regime_id=full.pk)
    assert propose(vessel=vessel, asks=asked, candidates=[full, bare]).version == bare


def test_of_those_that_will_do_the_vessels_own_goes_first_then_the_least_then_by_name() -> None:
    asked = [Ask("vessel", "", CleanLevel.ORDINARY)]
    strong = version(1, 3, frozenset(), name="A")
    later = version(2, 2, frozenset(), name="C")
    plain = version(3, 2, frozenset(), name="B")

    def chosen(own: int | None) -> RegimeVersion | None:
        vessel = tank(default_regime_id=own)
        return propose(vessel=vessel, asks=asked, candidates=[strong, later, plain]).version

    assert chosen(None) == plain
    assert chosen(1) == strong
    assert chosen(2) == later


@pytest.mark.parametrize(
    "regime, will_do",
    [
        ({}, True),
        ({"vessel_kinds": ["hose_set"]}, False),
        ({"vessel_kinds": ["hose_set", "fermenter"]}, True),
        ({"resanitises_only": True}, False),
        ({"resanitises_only": True, "vessel_kinds": ["hose_set"]}, False),
    ],
    ids=str,
)
def test_only_a_clean_for_the_vessels_kind_is_proposed(
    regime: dict[str, object], will_do: bool
) -> None:
    one = version(1, 3, frozenset(), **regime)
    assert fits(one, tank()) is will_do
    proposal = propose(vessel=tank(), asks=[], candidates=[one])
    assert proposal.version == (one if will_do else None)
    assert (proposal.level, proposal.needs) == (CleanLevel.LIGHT, frozenset())
    assert proposal.unmet == []


# ---- what asks ----


def level_after(last: Beer | None, following: Beer | None = None, **vessel: object) -> int:
    asked = asks_of(
        vessel=tank(**vessel),
        last_beer=last,
        next_beer=following,
        cleans_since_acid=0,
        cleans_since_caustic=0,
    )
    return propose(vessel=tank(), asks=asked, candidates=[]).level


@given(last=st.none() | beers, following=st.none() | beers, least=levels)
def test_no_level_is_below_what_the_vessel_or_either_beer_requires(
    last: Beer | None, following: Beer | None, least: int
) -> None:
    required = [least]
    if last is None or last.sour_or_mixed or last.diastatic:
        required.append(CleanLevel.STRONG)
    elif last.allergen or last.fruit_or_heavy_hops:
        required.append(CleanLevel.ORDINARY)
    if following is not None and following.strict_before:
        required.append(CleanLevel.STRONG)
    assert level_after(last, following, least_level=least) == sorted(required)[-1]


@pytest.mark.parametrize(
    "kept, level",
    [
        ({}, CleanLevel.LIGHT),
        ({"sour_or_mixed": True}, CleanLevel.STRONG),
        ({"diastatic": True}, CleanLevel.STRONG),
        ({"allergen": "milk"}, CleanLevel.ORDINARY),
        ({"fruit_or_heavy_hops": True}, CleanLevel.ORDINARY),
        ({"allergen": "milk", "sour_or_mixed": True}, CleanLevel.STRONG),
        ({"strict_before": True}, CleanLevel.LIGHT),
    ],
    ids=str,
)
def test_what_was_in_the_vessel_asks_for_its_level(kept: dict[str, object], level: int) -> None:
    assert level_after(Beer(name="Pale", **kept), least_level=1) == level


def test_contents_that_are_not_on_record_ask_for_the_strong_clean() -> None:
    assert level_after(None, least_level=1) == CleanLevel.STRONG


def test_a_beer_that_comes_next_asks_only_where_it_is_strict() -> None:
    pale = Beer(name="Pale")
    assert level_after(pale, Beer(name="Lager"), least_level=1) == CleanLevel.LIGHT
    strict = Beer(name="Lager", strict_before=True)
    assert level_after(pale, strict, least_level=1) == CleanLevel.STRONG


@pytest.mark.parametrize("kind, origin", [(StepKind.ACID, "acid"), (StepKind.CAUSTIC, "caustic")])
@pytest.mark.parametrize(
    "every, since, due",
    [(5, 3, False), (5, 4, True), (5, 5, True), (1, 0, True), (2, 0, False), (2, 1, True)],
)
def test_an_overdue_step_is_asked_for_at_its_turn(
    kind: str, origin: str, every: int, since: int, due: bool
) -> None:
    counts = {"cleans_since_acid": 0, "cleans_since_caustic": 0, f"cleans_since_{origin}": since}
    vessel = tank(**{"acid_every_n": 90, "caustic_every_n": 90, f"{origin}_every_n": every})
    asked = asks_of(vessel=vessel, last_beer=Beer(name="Pale"), next_beer=None, **counts)
    assert [ask.origin for ask in asked] == ["vessel", *([origin] if due else [])]
    proposal = propose(vessel=vessel, asks=asked, candidates=[])
    assert proposal.needs == ({kind} if due else frozenset())
    assert asked[-1].level == (CleanLevel.LIGHT if due else CleanLevel.ORDINARY)


@pytest.mark.parametrize(
    "kept, named, other",
    [
        ({"sour_or_mixed": True}, "sour", "diastatic"),
        ({"diastatic": True}, "diastatic", "sour"),
        ({"sour_or_mixed": True, "diastatic": True}, "sour", "diastatic"),
        ({"allergen": "milk"}, "milk", "hop"),
        ({"allergens": ["milk"]}, "milk", "hop"),
        ({"fruit_or_heavy_hops": True}, "hop", "milk"),
        ({"allergen": "milk", "fruit_or_heavy_hops": True}, "milk", "hop"),
    ],
    ids=str,
)
def test_a_reason_names_what_it_was_that_was_in_the_vessel(
    kept: dict[str, object], named: str, other: str
) -> None:
    asked = asks_of(
        vessel=tank(),
        last_beer=Beer(name="Pale", **kept),
        next_beer=None,
        cleans_since_acid=0,
        cleans_since_caustic=0,
    )
    reason = asked[1].reason
    assert (named in reason, other in reason) == (True, False)


@pytest.mark.parametrize(
    "last, following, count",
    [
        ({}, {}, 0),
        ({"fruit_or_heavy_hops": True}, {}, 1),
        ({"allergen": "milk"}, {}, 1),
        ({"allergens": ["milk"], "allergen": "from whey"}, {}, 1),
        ({"sour_or_mixed": True}, {}, 1),
        ({"diastatic": True}, {}, 1),
        ({"sour_or_mixed": True, "diastatic": True}, {}, 1),
        ({"strict_before": True}, {}, 0),
        ({}, {"strict_before": True}, 1),
        ({}, {"sour_or_mixed": True, "allergen": "milk", "fruit_or_heavy_hops": True}, 0),
        (
            {"fruit_or_heavy_hops": True, "allergen": "milk", "diastatic": True},
            {"strict_before": True},
            4,
        ),
    ],
    ids=str,
)
def test_each_thing_that_no_regime_does_is_called_to_mind_once(
    last: dict[str, object], following: dict[str, object], count: int
) -> None:
    found = reminders_of(last_beer=Beer(name="Pale", **last), next_beer=Beer(name="B", **following))
    assert len(set(found)) == len(found) == count


def test_nothing_is_called_to_mind_of_beers_that_are_not_on_record() -> None:
    assert reminders_of(last_beer=None, next_beer=None) == []


def test_an_allergen_is_named_as_a_sentence_begins() -> None:
    milk = Beer(name="Pale", allergen="milk and oats")
    (reminder,) = reminders_of(last_beer=milk, next_beer=None)
    assert reminder.startswith("Milk and oats: ")
