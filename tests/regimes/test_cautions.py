"""Which checks come before a step, by the kind of vessel and by what is left in it."""

import pytest

from brewhygiene.regimes import cautions
from brewhygiene.regimes.cautions import cautions_for_kind, heat_left, runs_hot
from brewhygiene.regimes.models import Step
from tests.factories import add_step, make_agent, make_version

pytestmark = pytest.mark.django_db


def step(kind: str, *bounds: float | None, agent: bool = False) -> Step:
    """A step of a kind whose temperature window has these bounds, °C."""
    windows = {"temperature_c": bounds} if bounds else {}
    version = make_version(steps=False)
    return add_step(version, kind, agent=make_agent() if agent else None, windows=windows)


def codes(one: Step, kind: str, **more: bool) -> list[str]:
    found = cautions_for_kind(one, kind, under_co2=more.pop("under_co2", False), **more)
    return [caution.code for caution in found]


def checks(one: Step, kind: str, **more: bool) -> list[str]:
    under_co2 = more.pop("under_co2", False)
    return [c.code for c in cautions_for_kind(one, kind, under_co2=under_co2, **more) if c.check]


@pytest.mark.parametrize(
    ("bounds", "hot"),
    [
        ((None, None, 45.0), True),
        ((None, None, 44.9), False),
        ((15.0, 25.0, 60.0), True),
        ((15.0, 25.0, 40.0), False),
        ((45.0, None, None), True),
        ((None, 45.0, None), True),
    ],
)
def test_step_is_hot_when_any_bound_of_its_window_is(
    bounds: tuple[float | None, float | None, float | None], hot: bool
) -> None:
    assert runs_hot("acid", bounds) is hot


def test_hot_water_is_hot_without_a_window_and_others_are_not() -> None:
    assert runs_hot("hot_water", None)
    assert not runs_hot("caustic", None)


TANK = ["vented", "purged", "air_path", "vacuum_valve"]


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("fermenter", TANK),
        ("bright_tank", TANK),
        ("yeast_vessel", TANK),
        ("liquor_tank", TANK),
        ("dry_hop_gear", TANK),
        ("keg", ["vented", "purged", "air_path"]),
        ("heat_exchanger", ["other_side"]),
        ("hose_set", []),
        ("filler", []),
        ("keg_line", []),
        ("draught_line", ["kegs_off", "taps_tagged"]),
    ],
)
def test_hot_caustic_asks_for_the_checks_of_its_kind_of_vessel(
    kind: str, expected: list[str]
) -> None:
    assert checks(step("caustic", 60, 85, agent=True), kind) == expected


def test_vacuum_valve_is_ticked_only_where_one_is_fitted() -> None:
    hot = step("caustic", 60, 85, agent=True)
    assert checks(hot, "fermenter", vacuum_valve=False) == ["vented", "purged", "air_path"]


def test_keg_and_line_read_words_of_their_own() -> None:
    hot = step("caustic", 60, 85, agent=True)
    keg = {c.code: c.title for c in cautions_for_kind(hot, "keg", under_co2=False)}
    assert keg["vented"] == "Keg without pressure"
    for kind in ("hose_set", "filler", "keg_line", "heat_exchanger"):
        found = cautions_for_kind(hot, kind, under_co2=False)
        assert cautions.COUPLINGS in found
        assert not any("vacuum" in c.text or "purge" in c.text for c in found)


def test_lid_of_dry_hop_gear_is_opened_without_pressure_only() -> None:
    assert checks(step("vent"), "dry_hop_gear") == ["co2_room", "lid"]
    assert checks(step("hand_clean"), "dry_hop_gear") == ["lid"]
    assert checks(step("hand_clean"), "yeast_vessel") == []
    assert "lid" not in checks(step("pre_rinse"), "dry_hop_gear")
    assert "confined_space" not in codes(step("hand_clean"), "dry_hop_gear")


def test_nobody_is_told_not_to_enter_a_keg() -> None:
    assert "confined_space" in codes(step("vent"), "fermenter")
    assert "confined_space" not in codes(step("vent"), "keg")
    assert "confined_space" in codes(step("hand_clean"), "bright_tank")
    assert "confined_space" not in codes(step("hand_clean"), "draught_line")


def test_co2_monitor_is_read_before_a_closed_vessel_is_vented() -> None:
    assert checks(step("vent"), "fermenter") == ["co2_room"]
    assert cautions.CO2_ROOM.text.startswith("I read the CO2 monitor before venting")
    assert checks(step("vent"), "keg_line") == []


@pytest.mark.parametrize("kind", ["rinse", "pre_rinse", "acid", "sanitiser", "drain"])
def test_every_step_under_co2_asks_for_gauge_relief_valve_and_supply(kind: str) -> None:
    assert "co2_kept" in checks(step(kind), "bright_tank", under_co2=True)
    assert "co2_kept" not in checks(step(kind), "bright_tank")
    assert "co2_kept" not in checks(step(kind), "hose_set", under_co2=True)


@pytest.mark.parametrize("kind", ["rinse", "pre_rinse", "acid", "sanitiser", "caustic"])
def test_cold_liquid_into_a_hot_tank_is_tempered_or_waits(kind: str) -> None:
    assert "cold_after_hot" in checks(step(kind), "fermenter", heat_before=True)
    assert "cold_after_hot" not in checks(step(kind), "fermenter")
    assert "cold_after_hot" not in checks(step(kind), "heat_exchanger", heat_before=True)
    assert "below 45 °C" in cautions.COLD_AFTER_HOT.text
    assert "tempered" in cautions.COLD_AFTER_HOT.text


@pytest.mark.parametrize("kind", ["drain", "hand_clean", "vent"])
def test_no_cold_liquid_no_check_of_it(kind: str) -> None:
    assert "cold_after_hot" not in checks(step(kind), "fermenter", heat_before=True)


def test_heat_stays_until_liquid_that_is_not_hot_took_it() -> None:
    hot, cold_rinse = step("caustic", 60, 85), step("rinse")
    assert heat_left([hot])
    assert heat_left([hot, step("drain"), step("vent"), step("hand_clean")])
    assert not heat_left([hot, cold_rinse])
    assert heat_left([hot, cold_rinse, hot])
    assert not heat_left([])


def test_step_that_was_read_hot_leaves_heat_whatever_its_window() -> None:
    cold = step("caustic", 10, 40)
    assert not heat_left([cold])
    assert not heat_left([cold], read_c={cold.pk: 44.9})
    assert heat_left([cold], read_c={cold.pk: 45.0})
