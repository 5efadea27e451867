"""The table of agents and materials, its heat limits and its meetings, as found."""

import csv
from itertools import pairwise
from pathlib import Path

import pytest

from brewhygiene.cellar.materials import Material
from brewhygiene.regimes.materials import table as table_module
from brewhygiene.regimes.materials.heat import HEAT_LIMITS, heat_limit
from brewhygiene.regimes.materials.meetings import MEETINGS, clears, meeting_of
from brewhygiene.regimes.materials.sources import SOURCES
from brewhygiene.regimes.materials.table import SCOPES, Verdict, agents_meant, table, verdict_on
from brewhygiene.regimes.models import ActiveSubstance

# One letter per material: suitable, limited, not. Sources stand in the table, row by row.
MATERIALS = [
    "stainless_304", "stainless_316", "aluminium", "copper", "brass", "carbon_steel", "wood",
    "glass_lined", "polyethylene", "polypropylene", "pvc", "ptfe", "epdm", "nbr", "fkm",
    "silicone",
]  # fmt: skip
FOUND = {
    "naoh_cold": "SSNLLSNSSSSSSSLL",
    "naoh_hot": "SSNNNLNLLSLSSLLL",
    "koh_cold": "SSNLLSNSSSSSSSLL",
    "koh_hot": "SSNNNLNLLSLSSLLL",
    "nitric": "SSNNNNNSSSSSSLSL",
    "phosphoric": "SSNLLNLSSSSSSSSL",
    "paa": "SSLNNNLSSSSSSLSS",
    "h2o2": "SSLLLLLSSSSSSLSS",
    "hypochlorite": "LLNNNNNSSSSSLLLS",
    "iodophor": "SSLLLLLSLLLSSSSL",
    "quat": "SSSSSSLSSSSSSSSS",
    "heat": "SSSSLLLLNLNSSLLL",
}
GASES = {
    ("naoh_cold", "aluminium"): "hydrogen",
    ("naoh_hot", "aluminium"): "hydrogen",
    ("koh_cold", "aluminium"): "hydrogen",
    ("koh_hot", "aluminium"): "hydrogen",
    ("nitric", "aluminium"): "nitrogen oxides and hydrogen",
    ("nitric", "copper"): "nitrogen oxides",
    ("nitric", "brass"): "nitrogen oxides",
    ("nitric", "carbon_steel"): "nitrogen oxides and hydrogen",
    ("phosphoric", "aluminium"): "hydrogen",
    ("phosphoric", "carbon_steel"): "hydrogen",
}


@pytest.mark.parametrize("agent", SCOPES)
def test_verdict_of_each_material_is_as_found(agent: str) -> None:
    ours = "".join(table()[agent, material].verdict.name[0] for material in MATERIALS)
    assert ours == FOUND[agent]


def test_table_has_each_pair_once_and_nothing_else() -> None:
    text = Path(table_module.__file__).with_name("compatibility.csv").read_text(encoding="utf-8")
    pairs = [(row["agent"], row["material"]) for row in csv.DictReader(text.splitlines())]
    assert sorted(pairs) == sorted((agent, material) for agent in FOUND for material in MATERIALS)
    assert set(MATERIALS) <= set(Material.values)


def test_gas_forms_on_the_pairs_that_were_found_and_only_there() -> None:
    assert {pair: row.gas for pair, row in table().items() if row.gas} == GASES
    assert all(table()[pair].verdict == Verdict.NOT for pair in GASES)


def test_every_row_names_its_source_and_every_unfit_one_its_reason() -> None:
    assert {row.source for row in table().values()} <= set(SOURCES)
    assert [
        pair for pair, row in table().items() if row.verdict == Verdict.NOT and not row.limit
    ] == []


def test_every_substance_has_rows() -> None:
    for substance in ActiveSubstance.values:
        for material in MATERIALS:
            assert verdict_on(substance=substance, material=material) is not None


@pytest.mark.parametrize(
    ("substance", "material", "strength", "celsius", "expected"),
    [
        # Cold caustic up to 40 °C, hot above it; the worse of both where it is not known.
        ("NaOH", "copper", 2, 40, "LIMITED"),
        ("NaOH", "copper", 2, 40.1, "NOT"),
        ("NaOH", "copper", 2, None, "NOT"),
        ("KOH", "brass", 2, 40, "LIMITED"),
        ("KOH", "brass", 2, 41, "NOT"),
        # Stronger or hotter than the row is known for: ask.
        ("NaOH", "epdm", 5, 90, "SUITABLE"),
        ("NaOH", "epdm", 5.1, 90, "LIMITED"),
        ("NaOH", "epdm", 5, 95, "SUITABLE"),
        ("NaOH", "epdm", 5, 95.1, "LIMITED"),
        ("NaOH", "stainless_304", 3, 90, "SUITABLE"),
        ("NaOH", "stainless_304", 3, 90.1, "LIMITED"),
        ("NaOH", "nbr", 5, 20, "SUITABLE"),
        ("NaOH", "nbr", 5.1, 20, "LIMITED"),
        # Nitric acid on stainless steel: under 0.05 mm a year in 10 % up to 93 °C.
        ("HNO3", "stainless_304", 10, 93, "SUITABLE"),
        ("HNO3", "stainless_316", 10.1, 93, "LIMITED"),
        ("HNO3", "stainless_316", 10, 93.1, "LIMITED"),
        ("HNO3", "epdm", 2, 60, "SUITABLE"),
        ("HNO3", "epdm", 2.1, 60, "LIMITED"),
        ("PAA", "fkm", 200, 20, "SUITABLE"),
        ("PAA", "fkm", 201, 20, "LIMITED"),
        ("PAA", "stainless_316", 500, 25, "SUITABLE"),
        ("PAA", "stainless_316", 501, 25, "LIMITED"),
        # A blend is as bad as the worse of its acids.
        ("HNO3+H3PO4", "copper", 1, 20, "NOT"),
        ("HNO3+H3PO4", "wood", 1, 20, "NOT"),
        ("HNO3+H3PO4", "silicone", 1, 20, "LIMITED"),
        # What softens in hot water is limited below it.
        ("heat", "polyethylene", None, 60, "LIMITED"),
        ("heat", "polyethylene", None, 60.1, "NOT"),
        ("heat", "polyethylene", None, None, "NOT"),
        ("heat", "epdm", None, 130, "SUITABLE"),
        ("heat", "epdm", None, 131, "LIMITED"),
        # Unfit stays unfit, however weak.
        ("NaOH", "aluminium", 0.01, 5, "NOT"),
        ("chlorine", "copper", 1, 5, "NOT"),
    ],
)
def test_strength_and_heat_count(
    substance: str, material: str, strength: float | None, celsius: float | None, expected: str
) -> None:
    judged = verdict_on(
        substance=substance, material=material, strength=strength, highest_c=celsius
    )
    assert judged is not None
    assert judged.verdict.name == expected


def test_of_the_acids_in_a_blend_the_one_that_makes_a_gas_counts() -> None:
    judged = verdict_on(substance="HNO3+H3PO4", material="copper")
    assert judged is not None
    assert (judged.row.agent, judged.row.gas) == ("nitric", "nitrogen oxides")


def test_material_that_is_not_in_the_table_has_no_verdict() -> None:
    assert verdict_on(substance="NaOH", material="unknown") is None
    assert agents_meant("unheard of", 20) == []


@pytest.mark.parametrize(
    ("substance", "ask", "never"),
    [
        # International Chemical Safety Cards and the other sources that each limit names.
        ("chlorine", 25, 40), ("PAA", 25, 40), ("iodine", 35, 50), ("H2O2", 40, 60),
        ("HNO3", 60, 80), ("HNO3+H3PO4", 60, 80), ("H3PO4", 60, 85), ("NaOH", 85, 95),
        ("KOH", 85, 95), ("quat", 60, 85),
    ],
)  # fmt: skip
def test_heat_limit_is_as_found(substance: str, ask: float, never: float) -> None:
    limit = heat_limit(substance)
    assert limit is not None
    assert (limit.ask_above_c, limit.never_above_c) == (ask, never)
    assert set(HEAT_LIMITS) == set(ActiveSubstance.values)


@pytest.mark.parametrize("substance", ["NaOH", "KOH"])
def test_caustic_in_a_draught_line_has_the_limit_of_its_tubing(substance: str) -> None:
    limit = heat_limit(substance, ["fermenter", "draught_line"])
    assert limit is not None
    assert (limit.ask_above_c, limit.never_above_c) == (52, 60)
    other = heat_limit("H3PO4", ["draught_line"])
    assert other is not None
    assert other.never_above_c == 85


REFUSED = [
    ("chlorine", "HNO3"), ("chlorine", "H3PO4"), ("chlorine", "HNO3+H3PO4"), ("chlorine", "PAA"),
    ("chlorine", "H2O2"),
]  # fmt: skip
ASKED = [
    ("NaOH", "PAA"), ("KOH", "H2O2"), ("NaOH", "HNO3"), ("KOH", "H3PO4"), ("NaOH", "iodine"),
    ("NaOH", "quat"), ("HNO3", "quat"),
]  # fmt: skip


@pytest.mark.parametrize("pair", REFUSED + ASKED)
def test_agents_that_must_not_meet_are_known_in_either_order(pair: tuple[str, str]) -> None:
    there, back = meeting_of(*pair), meeting_of(*reversed(pair))
    assert there is not None
    assert there == back
    assert there.refused == (pair in REFUSED)


@pytest.mark.parametrize(
    "pair", [("NaOH", "KOH"), ("HNO3", "H3PO4"), ("PAA", "H2O2"), ("NaOH", "chlorine"),
             ("PAA", "HNO3"), ("chlorine", "chlorine"), ("quat", "PAA")],
)  # fmt: skip
def test_agents_of_which_nothing_is_known_may_meet(pair: tuple[str, str]) -> None:
    assert meeting_of(*pair) is None


def test_nitric_acid_and_chlorine_say_more_than_another_acid() -> None:
    nitric, phosphoric = meeting_of("chlorine", "HNO3"), meeting_of("chlorine", "H3PO4")
    assert nitric is not None
    assert phosphoric is not None
    assert "nitrogen oxides" in nitric.what_happens
    assert "nitrogen oxides" not in phosphoric.what_happens


def test_hard_stops_come_before_what_is_asked() -> None:
    assert all(one.refused >= next_one.refused for one, next_one in pairwise(MEETINGS))


@pytest.mark.parametrize("kind", ["rinse", "pre_rinse", "drain", "hot_water", "hand_clean"])
@pytest.mark.parametrize(
    "end", ["", "runs_clear", "neutral", "tap_ph", "tap_conductivity", "drained"]
)
def test_only_a_rinse_with_a_measured_end_clears(kind: str, end: str) -> None:
    measured = end in ("neutral", "tap_ph", "tap_conductivity")
    assert clears(kind, end) == (measured and kind in ("rinse", "pre_rinse"))
