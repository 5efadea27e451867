"""What the steps of a regime do to the parts of a vessel."""

from typing import Any

import pytest

from brewhygiene.cellar.models import Vessel
from brewhygiene.regimes.drafts import StepDraft, WindowDraft
from brewhygiene.regimes.materials.fit import findings, harms_to, highest, highest_strength, meets
from brewhygiene.regimes.models import Agent

CAUSTIC = Agent(
    name="Caustic liquor", kind="caustic", active_substance="NaOH",
    concentrate_strength_ww=50, concentrate_density_kg_l=1.525,
)  # fmt: skip
NITRIC = Agent(name="Nitric acid", kind="acid", active_substance="HNO3", concentrate_strength_ww=53)
PERACETIC = Agent(
    name="Peracetic acid", kind="sanitiser", active_substance="PAA", concentrate_strength_ww=15
)
CHLORINE = Agent(
    name="Hypochlorite", kind="sanitiser", active_substance="chlorine", concentrate_strength_ww=12
)
QUAT = Agent(name="Quat", kind="sanitiser", active_substance="quat", concentrate_strength_ww=10)


def vessel(**values: Any) -> Vessel:
    return Vessel(
        **{
            "name": "FV 1",
            "kind": "fermenter",
            "volume_hl": 20,
            "material": "stainless_304",
            "seal_material": "epdm",
            "spray_device_material": "stainless_316",
            **values,
        }
    )


def step(
    kind: str, agent: Agent | None = None, *, celsius: Any = None, strength: Any = None, **more: Any
) -> StepDraft:
    windows = []
    if celsius is not None:
        windows.append(WindowDraft("temperature_c", *celsius))
    if strength is not None:
        windows.append(WindowDraft("concentration", *strength))
    return StepDraft(kind, agent, windows=tuple(windows), **more)


WASH = step("caustic", CAUSTIC, celsius=(60, 75, 85), strength=(1.5, 2, 3, "ww"))
COLD_WASH = step("caustic", CAUSTIC, celsius=(10, 20, 40), strength=(1.5, 2, 3, "ww"))


def test_regime_of_a_stainless_fermenter_harms_nothing() -> None:
    acid = step("acid", NITRIC, celsius=(15, 25, 60), strength=(0.5, 1, 2, "ww"))
    sanitiser = step(
        "sanitiser", PERACETIC, celsius=(None, None, 25), strength=(80, 150, 200, "mg_l")
    )
    assert [findings(one, vessel()) for one in (WASH, acid, sanitiser)] == [[], [], []]


def test_caustic_on_aluminium_is_refused_in_plain_words() -> None:
    tank = vessel(name="AL 1", material="aluminium")
    (harm,) = harms_to(tank, [StepDraft("rinse"), COLD_WASH])
    assert (harm.position, harm.field) == (1, "agent")
    assert harm.words == (
        "The vessel of AL 1 is unfit. Caustic liquor (sodium hydroxide, NaOH) on aluminium: the "
        "metal dissolves, and hydrogen forms. Source: International Chemical Safety Card 0360 and "
        "its potassium twin."
    )


def test_nitric_acid_on_copper_says_which_gas() -> None:
    (harm,) = harms_to(vessel(material="copper"), [step("acid", NITRIC)])
    assert "nitrogen oxides form. Source: GisChem" in harm.words


@pytest.mark.parametrize(
    ("part", "values", "words"),
    [
        ("vessel", {"material": "copper"}, "The vessel"),
        ("spray_device", {"spray_device_material": "brass"}, "The spray device"),
    ],
)
def test_each_part_counts(part: str, values: dict[str, str], words: str) -> None:
    (finding,) = findings(WASH, vessel(**values))
    assert (finding.code, finding.part, finding.refused) == (part, words, True)


def test_seals_limit_a_step_that_the_steel_stands() -> None:
    (finding,) = findings(WASH, vessel(seal_material="fkm"))
    assert (finding.code, finding.refused) == ("seals", False)
    assert finding.words == (
        "Caustic liquor (sodium hydroxide, NaOH) on FKM rubber: beyond what is known (at most 2 %, "
        "at most 60 °C, base-resistant grade only (from tests with an organic base)). Source: "
        "Corrosion 64(11):871, 2008, abstract"
    )


def test_vessel_without_a_spray_device_has_none_to_harm() -> None:
    assert findings(WASH, vessel(spray_device="none", spray_device_material="brass")) == []


@pytest.mark.parametrize("part", ["material", "seal_material", "spray_device_material"])
def test_what_is_not_known_is_not_refused(part: str) -> None:
    assert findings(WASH, vessel(**{part: "unknown"})) == []


def test_vessel_without_seals_has_none_to_harm() -> None:
    assert findings(WASH, vessel(seal_material="none")) == []


def test_plastic_of_an_unknown_kind_is_refused_only_where_each_kind_is_unfit() -> None:
    hot = step("hot_water", celsius=(80, None, None))
    assert [f.refused for f in findings(hot, vessel(material="plastic"))] == [False]
    assert [f.refused for f in findings(hot, vessel(material="pvc"))] == [True]
    assert findings(COLD_WASH, vessel(material="plastic")) == []


@pytest.mark.parametrize(("celsius", "refused"), [(60, False), (61, True)])
def test_hot_solution_softens_what_hot_water_softens(celsius: float, refused: bool) -> None:
    hot = step("caustic", CAUSTIC, celsius=(50, None, celsius))
    assert [f.refused for f in findings(hot, vessel(material="pvc"))] == [refused]


def test_too_hot_an_agent_harms_whatever_the_material() -> None:
    hot = step("sanitiser", PERACETIC, celsius=(None, None, 41))
    (harm,) = harms_to(vessel(material="unknown"), [hot])
    assert harm.words.startswith("Peracetic acid must not be hotter than 40 °C: ")
    assert (
        list(harms_to(vessel(material="unknown"), [step("rinse", celsius=(None, None, 99))])) == []
    )


@pytest.mark.parametrize(
    ("bounds", "expected"), [((1, 2, 3), 3), ((1, 2, None), 2), ((1, None, None), 1)]
)
def test_highest_is_the_maximum_where_there_is_one(bounds: Any, expected: float) -> None:
    assert highest(step("caustic", CAUSTIC, celsius=bounds), "temperature_c") == expected
    assert highest(step("caustic", CAUSTIC), "temperature_c") is None


def test_strength_is_compared_in_the_basis_of_the_table() -> None:
    # 3 % v/v of a 50 % liquor of 1.525 kg/L is 2.2875 % w/v, and 2.235 % w/w at 1.0234 kg/L.
    by_volume = step("caustic", CAUSTIC, strength=(1, 2, 3, "vv"))
    assert highest_strength(by_volume, CAUSTIC) == pytest.approx(2.235, abs=0.005)
    # Without the density of the concentrate it is not known.
    assert highest_strength(step("acid", NITRIC, strength=(1, 2, 3, "vv")), NITRIC) is None
    assert highest_strength(step("acid", NITRIC), NITRIC) is None


def test_agents_meet_across_steps_that_do_not_rinse() -> None:
    bleach, acid = step("sanitiser", CHLORINE), step("acid", NITRIC)
    rinse = step("rinse", end_criterion="tap_ph")
    assert [harm.position for harm in meets([bleach, StepDraft("drain"), acid])] == [2]
    assert [harm.position for harm in meets([bleach, StepDraft("rinse"), acid])] == [2]
    assert list(meets([bleach, rinse, acid])) == []
    # One that came between does not take it out.
    assert [harm.position for harm in meets([bleach, step("sanitiser", QUAT), acid])] == [2]


def test_agent_left_by_an_earlier_clean_meets_the_first_step() -> None:
    (harm,) = meets([step("acid", NITRIC)], [CHLORINE])
    assert harm.words == (
        "Nitric acid must not meet Hypochlorite. Chlorine and nitrogen oxides form, gases that "
        "kill. Source: GisChem (German statutory accident insurers), sheet nitric acid 5 to 20 %; "
        "International Chemical Safety Card 0482."
    )
    assert (
        list(meets([step("rinse", end_criterion="neutral"), step("acid", NITRIC)], [CHLORINE]))
        == []
    )
