"""The starting regimes against where their windows come from."""

import itertools
from collections.abc import Callable
from typing import Any

import pytest

from brewhygiene.quantities.units import convert
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft
from brewhygiene.regimes.library.agents import AGENTS
from brewhygiene.regimes.library.regimes import REGIMES
from brewhygiene.regimes.library.steps import (
    BEST_PRACTICES,
    DRAUGHT_MANUAL,
    HOT_WATER_LEAST,
    LINE_VELOCITY,
    MIXED_CULTURE,
    NOT_ABOVE_40_C,
)
from brewhygiene.regimes.models import Agent

Published = Callable[..., None]

MANUAL = "Brewers Association, Draught Beer Quality Manual, as summarised by secondary pages (read)"
WIKI = "a mixed-fermentation wiki (read)"
DAIRY = "California Food and Agricultural Code 33519, read"
WOODHEAD = "Handbook of Hygiene Control in the Food Industry (Woodhead 2005), excerpt read"
VELOCITY = "3-A accepted practice for cleaned-in-place lines, from memory"
HONEST_SOURCES = {
    COMMON_PRACTICE,
    DRAUGHT_MANUAL,
    BEST_PRACTICES,
    NOT_ABOVE_40_C,
    LINE_VELOCITY,
    HOT_WATER_LEAST,
    MIXED_CULTURE,
}
DRAUGHT = [starting.about.name for starting in REGIMES if "Draught" in starting.about.name]


def steps_of(name: str) -> list[StepDraft]:
    agents = {values.name: Agent(**vars(values)) for values in AGENTS}
    (starting,) = (starting for starting in REGIMES if starting.about.name == name)
    return starting.steps(agents)


def bounds_of(name: str, kind: str, quantity: str) -> tuple[Any, ...]:
    """The window of a quantity in a regime's last step of a kind."""
    step = [step for step in steps_of(name) if step.kind == kind][-1]
    window = step.window(quantity)
    assert window is not None
    return (window.minimum, window.target, window.maximum)


@pytest.mark.parametrize("name", DRAUGHT)
def test_draught_caustic_is_the_manuals(published: Published, name: str) -> None:
    least, aim, most = bounds_of(name, "caustic", "concentration")
    published(f"{name}: caustic, %", least, 2, MANUAL, tolerance=0)
    published(f"{name}: caustic aimed for, %", aim, 2, MANUAL, tolerance=0)
    published(f"{name}: caustic for old or problem lines, %", most, 3, MANUAL, tolerance=0)
    coldest, _, warmest = bounds_of(name, "caustic", "temperature_c")
    # The manual gives °F; whole °C are within half a degree of them.
    published(f"{name}: coldest, °C", coldest, convert(80, "F", "C"), f"{MANUAL}: 80 °F", 0.5)
    published(f"{name}: warmest, °C", warmest, convert(125, "F", "C"), f"{MANUAL}: 125 °F", 0.5)


@pytest.mark.parametrize("name", DRAUGHT)
def test_draught_times_and_flow_are_the_manuals(published: Published, name: str) -> None:
    standing = "standing" in name
    for kind in {step.kind for step in steps_of(name)} & {"caustic", "acid"}:
        least, _, most = bounds_of(name, kind, "time_min")
        published(f"{name}: {kind}, min", least, 20 if standing else 15, MANUAL, tolerance=0)
        assert most is None
        if not standing:
            # 1 US gallon is 3.785411784 L by definition.
            published(
                f"{name}: {kind}, most flow, L/min",
                bounds_of(name, kind, "flow_l_min")[2],
                2 * 3.785411784,
                f"{MANUAL}: 2 US gal/min",
                tolerance=1e-9,
            )


@pytest.mark.parametrize("name", DRAUGHT)
def test_draught_rinse_ends_at_the_taps_ph(published: Published, name: str) -> None:
    last = [step for step in steps_of(name) if step.kind == "rinse"][-1]
    published(f"{name}: rinse ends at", last.end_criterion, "tap_ph", MANUAL)


def test_draught_intervals_are_the_manuals(published: Published) -> None:
    plain = {name for name in DRAUGHT if not any(s.kind == "acid" for s in steps_of(name))}
    days = {name.split("every ")[1] for name in plain}
    with_acid = {name.split("every ")[1] for name in set(DRAUGHT) - plain}
    published("draught line, caustic every", days, {"14 days"}, MANUAL)
    published("draught line, acid every", with_acid, {"3 months"}, MANUAL)


def test_hot_water_is_no_less_than_a_dairy_code_asks(published: Published) -> None:
    least_c, _, _ = bounds_of("Hot water sanitising", "hot_water", "temperature_c")
    least_min, _, _ = bounds_of("Hot water sanitising", "hot_water", "time_min")
    assert least_c >= convert(170, "F", "C"), f"{DAIRY}: 170 °F"
    assert least_min >= 5, DAIRY
    published("hot water, least, °C", least_c, 80, COMMON_PRACTICE, tolerance=0)
    published("hot water, least, min", least_min, 20, COMMON_PRACTICE, tolerance=0)


def test_hot_water_after_mixed_culture_takes_three_times_as_long(published: Published) -> None:
    name = "Hot water sanitising after mixed culture"
    least_min, _, _ = bounds_of(name, "hot_water", "time_min")
    published("hot water after mixed culture, min", least_min, 60, WIKI, tolerance=0)
    assert bounds_of(name, "hot_water", "temperature_c")[0] == 80


def test_keg_lines_and_fillers_are_rinsed_cold_before_anything_hot() -> None:
    for name in ("Keg line and filler", "Keg line and filler, with acid"):
        first = steps_of(name)[0]
        assert (first.kind, first.window("temperature_c").maximum) == ("pre_rinse", 40)


@pytest.mark.parametrize("name", DRAUGHT)
def test_draught_line_is_taken_apart_and_its_bar_told_before_caustic(name: str) -> None:
    kinds = [step.kind for step in steps_of(name)]
    assert kinds[:3] == ["hand_clean", "pre_rinse", "caustic"]
    assert "Tell the bar, tag the taps" in steps_of(name)[0].instruction


def test_every_hot_tank_is_rinsed_tempered_or_cooled_not_by_an_open_vent_alone() -> None:
    for starting in REGIMES:
        if not {"fermenter", "yeast_vessel", "keg", "dry_hop_gear"} & set(
            starting.about.vessel_kinds
        ):
            continue
        for before, step in itertools.pairwise(steps_of(starting.about.name)):
            hot = before.window("temperature_c")
            if step.kind == "rinse" and hot is not None and (hot.maximum or hot.minimum) >= 45:
                assert "emper the water" in step.instruction, starting.about.name
                assert "below 45 °C" in step.instruction


@pytest.mark.parametrize("kind", ["yeast_vessel", "liquor_tank", "dry_hop_gear"])
def test_kinds_that_have_ordinary_regimes_of_their_own(kind: str) -> None:
    ordinary = [
        starting.about.vessel_kinds
        for starting in REGIMES
        if kind in starting.about.vessel_kinds
        and starting.about.level == 2
        and not starting.about.resanitises_only
    ]
    assert ordinary == [(kind,)]


def test_pre_rinses_are_not_above_what_sets_protein(published: Published) -> None:
    warmest = [
        window.maximum or 0.0
        for starting in REGIMES
        for step in steps_of(starting.about.name)
        if step.kind == "pre_rinse" and (window := step.window("temperature_c"))
    ]
    assert len(warmest) == 10
    published("warmest pre-rinse, °C", max(warmest), 40, WOODHEAD, tolerance=0)


def test_line_velocity_is_the_rule_of_thumbs(published: Published) -> None:
    for name in (
        "Heat exchanger and wort line",
        "Heat exchanger and wort line, with the weekly acid",
    ):
        least, _, _ = bounds_of(name, "caustic", "velocity_m_s")
        published(f"{name}: m/s", least, 1.5, VELOCITY, tolerance=0)
    # 5 ft/s, the same rule in the units that it is told in.
    published("5 ft/s in m/s", 5 * 0.3048, 1.5, VELOCITY, tolerance=0.05)


TRADE = [
    ("Fermenter, hot caustic", "caustic", "concentration", (1.5, 2, 3)),
    ("Fermenter, hot caustic", "caustic", "temperature_c", (60, 75, 85)),
    ("Fermenter, hot caustic", "caustic", "time_min", (20, 30, 45)),
    ("Fermenter, hot caustic", "acid", "concentration", (0.5, 1, 2)),
    # Up to 60 °C is common; from 45 °C on a closed tank needs the checks of a hot step.
    ("Fermenter, hot caustic", "acid", "temperature_c", (15, 25, 40)),
    ("Heat exchanger and wort line, with the weekly acid", "acid", "temperature_c", (15, 25, 60)),
    ("Fermenter, hot caustic", "acid", "time_min", (10, 15, 30)),
    ("Fermenter, hot caustic", "sanitiser", "concentration", (80, 150, 200)),
    ("Fermenter, hot caustic", "sanitiser", "temperature_c", (None, None, 25)),
    ("Fermenter, hot caustic", "sanitiser", "time_min", (5, 10, 30)),
    ("Fermenter, cold caustic", "caustic", "concentration", (2, 2.5, 4)),
    ("Fermenter, cold caustic", "caustic", "temperature_c", (10, 20, 40)),
    ("Fermenter, cold caustic", "caustic", "time_min", (30, 45, 60)),
    ("Fermenter, cold caustic", "acid", "concentration", (0.5, 1, 2)),
    ("Bright tank, acid only under CO2", "acid", "concentration", (1, 1.5, 2.5)),
    ("Bright tank, acid only under CO2", "acid", "temperature_c", (None, None, 30)),
    ("Bright tank, acid only under CO2", "acid", "time_min", (20, 30, 45)),
    ("Bright tank, acid only under CO2", "sanitiser", "concentration", (100, 150, 200)),
    ("Bright tank, acid only under CO2", "sanitiser", "time_min", (10, 15, 30)),
    ("Heat exchanger and wort line", "caustic", "concentration", (2, 2.5, 4)),
    ("Heat exchanger and wort line", "caustic", "temperature_c", (75, 80, 85)),
    ("Heat exchanger and wort line", "caustic", "time_min", (30, None, None)),
    ("Heat exchanger and wort line", "hot_water", "temperature_c", (80, None, None)),
    ("Heat exchanger and wort line", "hot_water", "time_min", (20, 30, None)),
    # Above 3 % ask, acid above 2 %.
    ("Hoses", "caustic", "concentration", (2, None, 3)),
    ("Hoses", "caustic", "temperature_c", (60, None, None)),
    ("Hoses", "caustic", "time_min", (20, None, None)),
    ("Hoses", "sanitiser", "time_min", (10, None, None)),
    ("Kegs", "caustic", "concentration", (2, None, 3)),
    ("Kegs", "caustic", "temperature_c", (70, None, 80)),
    ("Kegs", "acid", "concentration", (1, None, 2)),
    ("Kegs", "acid", "temperature_c", (60, None, None)),
    ("Kegs", "hot_water", "temperature_c", (105, None, None)),
    ("Kegs", "hot_water", "time_min", (1, None, None)),
    ("After sour, mixed-culture or diastatic beer", "caustic", "temperature_c", (60, 75, 85)),
    # Twice the contact time of the ordinary regime, within the 30 min that seals stand.
    ("After sour, mixed-culture or diastatic beer", "sanitiser", "time_min", (10, 20, 30)),
]


@pytest.mark.parametrize(("name", "kind", "quantity", "bounds"), TRADE)
def test_window_is_what_the_trade_uses(
    published: Published, name: str, kind: str, quantity: str, bounds: tuple[Any, ...]
) -> None:
    ours = bounds_of(name, kind, quantity)
    published(f"{name}: {kind}, {quantity}", ours, bounds, COMMON_PRACTICE)


@pytest.mark.parametrize("starting", REGIMES, ids=lambda starting: starting.about.name)
def test_every_window_and_end_has_an_honest_source(starting: Any) -> None:
    steps = steps_of(starting.about.name)
    sources = {window.source for step in steps for window in step.windows}
    sources |= {step.end_criterion_source for step in steps if step.end_criterion}
    assert sources <= HONEST_SOURCES
    assert starting.provenance.strip()


def test_only_draught_lines_claim_the_draught_manual() -> None:
    claiming = {
        starting.about.name
        for starting in REGIMES
        for step in steps_of(starting.about.name)
        if any(window.source == DRAUGHT_MANUAL for window in step.windows)
    }
    assert claiming == set(DRAUGHT)


def test_regime_under_co2_has_no_caustic_and_all_others_for_closed_tanks_vent_first() -> None:
    for starting in REGIMES:
        kinds = [step.kind for step in steps_of(starting.about.name)]
        if starting.about.under_co2:
            assert "caustic" not in kinds
        elif "fermenter" in starting.about.vessel_kinds and "caustic" in kinds:
            assert kinds[0] == "vent"
