"""Make-up, top-up and mixing: mass is conserved, and what cannot be is refused with its reason."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brewhygiene.science.solutions.batch import (
    HEAT_OF_SOLUTION_KJ_MOL,
    Batch,
    Concentrate,
    Infeasible,
    heat_of_dilution_at_most_kj,
)
from brewhygiene.science.solutions.density import OutOfRange
from brewhygiene.science.solutions.makeup import make_up_into_water, make_up_to_volume
from brewhygiene.science.solutions.strength import NotConvertible
from brewhygiene.science.solutions.topup import correct_strength, mix, top_up

TOO_FULL = (
    "The tank is too full. Its solution and the concentrate are more than the finished volume."
)
TOO_STRONG = (
    "The tank already contains 33.367 kg active, more than the 20.414 kg that the finished volume "
    "needs. Drain 311 L first, or dilute to a larger volume."
)
CONCENTRATES = [
    Concentrate("NaOH", 50),
    Concentrate("NaOH", 32, temperature_c=35),
    Concentrate("KOH", 45),
    Concentrate("HNO3", 60),
    Concentrate("H3PO4", 75),
]


def assert_balanced(batch: Batch, concentrate: Concentrate) -> None:
    """Everything that went in is in the solution, and the active substance as wanted."""
    assert batch.solution_kg == pytest.approx(
        batch.start_kg + batch.concentrate_kg + batch.water_kg, rel=1e-12
    )
    assert batch.active_kg == pytest.approx(
        batch.start_active_kg + batch.concentrate_kg * concentrate.strength_ww / 100, rel=1e-12
    )
    assert batch.active_kg / batch.solution_kg * 100 == pytest.approx(batch.target_ww, rel=1e-9)
    assert batch.solution_l * batch.solution_kg_l == pytest.approx(batch.solution_kg, rel=1e-12)
    assert min(batch.concentrate_kg, batch.water_kg) >= 0


concentrates = st.sampled_from(CONCENTRATES)
strengths = st.floats(0.05, 20)
volumes = st.floats(1, 20_000)
temperatures = st.floats(16, 80)


@given(concentrate=concentrates, target_ww=strengths, volume_l=volumes, temperature_c=temperatures)
def test_make_up_conserves_mass(
    concentrate: Concentrate, target_ww: float, volume_l: float, temperature_c: float
) -> None:
    batch = make_up_to_volume(
        concentrate=concentrate, target_ww=target_ww, volume_l=volume_l,
        temperature_c=temperature_c,
    )  # fmt: skip
    assert_balanced(batch, concentrate)
    assert batch.solution_l == pytest.approx(volume_l, rel=1e-12)


@given(concentrate=concentrates, target_ww=strengths, water_l=volumes, temperature_c=temperatures)
def test_make_up_into_water_is_the_make_up_of_what_comes_of_it(
    concentrate: Concentrate, target_ww: float, water_l: float, temperature_c: float
) -> None:
    batch = make_up_into_water(
        concentrate=concentrate, target_ww=target_ww, water_l=water_l,
        temperature_c=temperature_c,
    )  # fmt: skip
    assert_balanced(batch, concentrate)
    assert batch.water_l == pytest.approx(water_l, rel=1e-12)
    same = make_up_to_volume(
        concentrate=concentrate, target_ww=target_ww, volume_l=batch.solution_l,
        temperature_c=temperature_c,
    )  # fmt: skip
    assert same.concentrate_kg == pytest.approx(batch.concentrate_kg, rel=1e-9)
    assert same.water_l == pytest.approx(water_l, rel=1e-9)


@given(
    present_l=st.floats(10, 2000), present_ww=st.floats(0, 6), target_ww=st.floats(0.1, 6),
    volume_l=st.floats(10, 3000),
)  # fmt: skip
def test_top_up_conserves_mass_or_says_why_not(
    present_l: float, present_ww: float, target_ww: float, volume_l: float
) -> None:
    concentrate = CONCENTRATES[0]
    wanted = {"concentrate": concentrate, "target_ww": target_ww, "volume_l": volume_l}
    try:
        batch = top_up(present_l=present_l, present_ww=present_ww, **wanted)
    except Infeasible as refused:
        # It says how much to drain, to the litre above; with that gone there is a way.
        drain_l = float(str(refused).split("Drain ")[1].split(" L")[0])
        left_l = present_l - drain_l
        assume(left_l > 0)
        assert_balanced(top_up(present_l=left_l, present_ww=present_ww, **wanted), concentrate)
        return
    assert_balanced(batch, concentrate)
    assert batch.solution_l == pytest.approx(volume_l, rel=1e-9)


@given(present_ww=st.floats(0, 10), target_ww=st.floats(0.1, 10), temperature_c=temperatures)
def test_correcting_a_strength_adds_one_thing_and_conserves_mass(
    present_ww: float, target_ww: float, temperature_c: float
) -> None:
    concentrate = CONCENTRATES[0]
    batch = correct_strength(
        concentrate=concentrate, present_l=800, present_ww=present_ww, target_ww=target_ww,
        temperature_c=temperature_c,
    )  # fmt: skip
    assert_balanced(batch, concentrate)
    assert 0 in (batch.concentrate_kg, batch.water_kg)


@given(
    first_l=volumes, first_ww=st.floats(0, 20), second_l=st.floats(0, 20_000),
    second_ww=st.floats(0, 20), first_c=temperatures, second_c=temperatures,
)  # fmt: skip
def test_mixing_conserves_mass(
    first_l: float, first_ww: float, second_l: float, second_ww: float, first_c: float,
    second_c: float,
) -> None:  # fmt: skip
    one, other = (
        mix(solute="NaOH", first_l=a_l, first_ww=a_ww, second_l=b_l, second_ww=b_ww,
            first_temperature_c=a_c, second_temperature_c=b_c)
        for a_l, a_ww, a_c, b_l, b_ww, b_c in (
            (first_l, first_ww, first_c, second_l, second_ww, second_c),
            (max(second_l, 1e-6), second_ww, second_c, first_l, first_ww, first_c),
        )
    )  # fmt: skip
    assert one.mass_kg == pytest.approx(other.mass_kg, rel=1e-5)
    assert one.active_kg == pytest.approx(other.active_kg, rel=1e-5, abs=1e-5)
    low, high = sorted((first_ww, second_ww))
    assert low - 1e-9 <= one.strength_ww <= high + 1e-9
    assert one.volume_l * one.density_kg_l == pytest.approx(one.mass_kg, rel=1e-12)


def test_parts_are_more_than_the_whole() -> None:
    batch = make_up_to_volume(concentrate=Concentrate("NaOH", 50), target_ww=2, volume_l=1000)
    assert batch.parts_l - batch.solution_l == pytest.approx(8.4, abs=0.05)


def test_a_hot_volume_takes_less() -> None:
    cold, hot = (
        make_up_to_volume(
            concentrate=Concentrate("NaOH", 50), target_ww=2, volume_l=1000, temperature_c=at,
            water_temperature_c=15,
        ).concentrate_kg
        for at in (20, 70)
    )  # fmt: skip
    assert cold / hot == pytest.approx(1.022, abs=0.001)


def test_sanitiser_without_a_table_is_made_up_by_its_sheet() -> None:
    """150 mg/L from 15 % at 1.15 kg/L: 150 g active, 1 kg, 0.87 L in 1000 L (computed)."""
    concentrate = Concentrate("PAA", 15, density_kg_l=1.15)
    batch = make_up_to_volume(concentrate=concentrate, target_ww=0.015, volume_l=1000)
    assert batch.concentrate_l == pytest.approx(0.998 * 0.15 / 0.15 / 1.15, rel=1e-3)
    assert (batch.heat_at_most_kj, batch.rise_at_most_k) == (None, None)
    with pytest.raises(NotConvertible, match="density of the PAA concentrate"):
        make_up_to_volume(concentrate=Concentrate("PAA", 15), target_ww=0.015, volume_l=1000)
    with pytest.raises(OutOfRange, match="only when dilute"):
        make_up_to_volume(concentrate=concentrate, target_ww=1, volume_l=1000)


@pytest.mark.parametrize(
    "solute, kind, ions", [("NaOH", "s", ("Na+", "OH-")), ("KOH", "s", ("K+", "OH-")),
                           ("HNO3", "l", ("H+", "NO3-")), ("H3PO4", "l", ("H+", "H2PO4-"))],
)  # fmt: skip
def test_heat_of_solution_is_that_of_the_library(
    solute: str, kind: str, ions: tuple[str, str]
) -> None:
    """Enthalpies of formation of the CRC Handbook, in the library ``chemicals``."""
    from chemicals import CAS_from_any, Hfl, Hfs
    from thermo import electrochem

    electrochem._load_electrochem_data()
    table = electrochem.CRC_aqueous_thermodynamics.set_index("Formula")["Hf(aq)"]
    pure = (Hfs if kind == "s" else Hfl)(CAS_from_any(solute))
    released_kj_mol = (pure - sum(table[ion] for ion in ions)) / 1000
    assert HEAT_OF_SOLUTION_KJ_MOL[solute] == pytest.approx(released_kj_mol, abs=0.05)


def test_heat_is_bounded_from_above() -> None:
    """Dissolving 20 g/L of solid NaOH warms water by 5.3 K: q = 44.5 kJ/mol (from memory)."""
    batch = make_up_to_volume(concentrate=Concentrate("NaOH", 50), target_ww=2, volume_l=1000)
    solid_k = 20 / 39.997 * 44.5 / 4.18
    assert batch.rise_at_most_k is not None
    assert solid_k * 0.98 <= batch.rise_at_most_k <= solid_k * 1.05
    assert heat_of_dilution_at_most_kj(solute="PAA", active_kg=1) is None


@pytest.mark.parametrize(
    "change, reason, message",
    [
        (
            {"concentrate": Concentrate("NaOH", 2)},
            "concentrate_too_weak",
            "A concentrate of 2 % w/w cannot give 2 % w/w. Choose a stronger one.",
        ),
        (
            {"present_l": 1100.0},
            "too_full",
            f"{TOO_FULL} Drain 106 L first.",
        ),
        (
            {"present_l": 995.0},
            "too_full",
            f"{TOO_FULL} Drain 1 L first.",
        ),
        (
            {"present_ww": 4.0},
            "too_strong",
            TOO_STRONG,
        ),
        (
            {"capacity_l": 900.0},
            "too_full",
            "1000 L does not fit into a tank of 900 L.",
        ),
    ],
)
def test_top_up_that_cannot_be_is_refused(
    change: dict[str, float], reason: str, message: str
) -> None:
    wanted = {
        "concentrate": Concentrate("NaOH", 50), "present_l": 800.0, "present_ww": 1.4,
        "target_ww": 2.0, "volume_l": 1000.0,
    }  # fmt: skip
    with pytest.raises(Infeasible) as refused:
        top_up(**(wanted | change))
    assert (refused.value.reason, str(refused.value)) == (reason, message)


def test_correcting_beyond_the_tank_is_refused() -> None:
    with pytest.raises(Infeasible, match="the tank contains at most 1000 L") as refused:
        correct_strength(
            concentrate=Concentrate("NaOH", 50), present_l=1000, present_ww=1, target_ww=2,
            capacity_l=1000,
        )  # fmt: skip
    assert refused.value.reason == "too_full"


@pytest.mark.parametrize("volume_l", [0.0, -1.0, float("nan"), float("inf")])
def test_a_volume_that_cannot_be_is_refused(volume_l: float) -> None:
    with pytest.raises(OutOfRange, match="volume"):
        make_up_to_volume(concentrate=Concentrate("NaOH", 50), target_ww=2, volume_l=volume_l)


def test_working_of_a_make_up_can_be_followed() -> None:
    batch = make_up_to_volume(concentrate=Concentrate("NaOH", 50), target_ww=2, volume_l=1000)
    assert [str(line) for line in batch.working] == [
        "finished solution: V · ρ = 1000 × 1.0207 = 1020.7 kg",
        "active substance: m · w ÷ 100 = 1020.7 × 2 ÷ 100 = 20.414 kg",
        "concentrate: active × 100 ÷ its strength = 20.414 × 100 ÷ 50 = 40.828 kg",
        "water: finished − concentrate = 1020.7 − 40.828 = 979.87 kg",
        "concentrate by volume: kg ÷ ρ = 40.828 ÷ 1.5253 = 26.767 L",
        "water by volume: kg ÷ ρ = 979.87 ÷ 0.9982 = 981.63 L",
        "finished solution by volume: kg ÷ ρ = 1020.7 ÷ 1.0207 = 1000 L",
        "warms by at most: Q ÷ (m (1 − w) c) = 22610 ÷ (1020.7 × 0.98 × 4.18) = 5.4076 K",
    ]
    assert "Never add water to the concentrate" in batch.order
