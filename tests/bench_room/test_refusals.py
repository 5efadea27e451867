"""What cannot be worked out is said beside its field, and everything typed is still there."""

import re
from typing import Any

import pytest
from django.test import Client

from brewhygiene.bench.catalogue import BY_SLUG
from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.fields import CountField
from tests.bench_room.pages import ask, errors, example, figures

pytestmark = pytest.mark.django_db

CAUSTIC_RANGE = "must be from 0 to 50 % w/w."

# slug, inputs, label of the field, its message.
BAD: list[tuple[str, dict[str, Any], str, str]] = [
    ("strength", {"value": 60}, "Strength",
     f"The strength of NaOH is 60 % w/w; it {CAUSTIC_RANGE}"),
    ("strength", {"temperature": 120}, "Temperature of the volume",
     "The temperature of NaOH is 120 °C; it must be from 0 to 100 °C."),
    ("strength", {"substance": "H3PO4", "basis": "eq_l"}, "Equivalents a mole counts as",
     ("A normality of H3PO4 says nothing without its end point: state whether a mole counts as 1 "
     "or 2 equivalents.")),
    ("make-up", {"target": 50}, "Strength of the concentrate",
     "A concentrate of 50 % w/w cannot give 50 % w/w: take a stronger one."),
    ("make-up", {"concentrate_ww": 60}, "Strength of the concentrate",
     f"The strength of NaOH is 60 % w/w; it {CAUSTIC_RANGE}"),
    ("make-up", {"volume": 0}, "Finished volume", "The volume is 0 L; it must be above 0 L."),
    ("make-up", {"volume": "-5"}, "Finished volume", "-5 L is too little: at least 0 L."),
    ("make-up", {"substance": "PAA", "concentrate_ww": 15, "target": 150, "basis": "mg_l"},
     "Density of the concentrate", "Give the density of the PAA concentrate in kg/L."),
    ("make-up", {"substance": "PAA", "density_kg_l": 1.1, "target": 2, "basis": "wv"}, "Given in",
     "No density table of PAA to turn % w/v into ww."),
    ("into-water", {"water": 0}, "Water in the tank", "The water is 0 L; it must be above 0 L."),
    ("top-up", {"present": 995, "present_strength": 1}, "Volume there",
     ("The tank is too full: what is in it and the concentrate it needs are more than the finished "
     "volume. Drain 5 L first.")),
    ("top-up", {"present_strength": 5}, "Strength there, as titrated",
     ("The tank already holds 42.15 kg active, more than the 20.414 kg that the finished volume "
     "needs. Drain 413 L first, or thin it to a larger volume.")),
    ("top-up", {"capacity": 900}, "The tank holds", "1000 L do not fit into a tank of 900 L."),
    ("set-right", {"capacity": 1000}, "The tank holds",
     "It would become 1005.8 L, and the tank holds 1000 L. Drain some of it first."),
    ("mix", {"second_ww": 60}, "Its strength",
     f"The strength of NaOH is 60 % w/w; it {CAUSTIC_RANGE}"),
    ("titration", {"reading": 1, "blank": 2}, "Titrant used to the end point",
     "The reading of 1 mL is below the blank of 2 mL."),
    ("titration", {"sample": 0}, "Sample", "The sample is 0 mL; it must be above 0 mL."),
    ("titration", {"substance": "HNO3+H3PO4"}, "Equivalent weight",
     "A blend needs its equivalent weight: see its label."),
    ("used-caustic", {"first_reading": 12, "second_reading": 11.5}, "To methyl orange",
     ("The second end point, 11.5 mL, comes before the first, 12 mL. If it was counted from the "
     "first end point on, say so.")),
    ("mixed-acid", {"first_reading": 5, "second_reading": 11}, "To pH 9.5",
     ("From the first end point to the second it took 6 mL, more than the 5 mL to the first: that "
     "is no mixture of nitric and phosphoric acid.")),
    ("peracetic", {"dilution": 0.5}, "The sample was diluted",
     "The dilution is 0.5 times; it must be at least 1 times."),
    ("chlorine-iodine", {"titrant": 0}, "Titrant",
     "The titrant's strength is 0 eq/L; it must be above 0 eq/L."),
    ("conductivity", {"temperature": 95}, "Temperature of the solution",
     "The temperature of the solution is 95 °C; it must be from 5 to 90 °C."),
    ("compensation", {"alpha": 15}, "Coefficient α",
     "15 % per K is too much: at most 10 % per K."),
    ("rinse-end", {"solution": 90}, "Temperature of the cleaning solution",
     "Give the cleaning solution's temperature with its conductivity."),
    ("rinse-end", {"limit": 0}, "Above the water by at most",
     "The limit is 0 mS/cm; it must be above 0 mS/cm."),
    ("site-calibration", {"pairs": "1; 50; 20\n2; 90; 20"}, "Pairs",
     "2 pairs are too few for a line and what it is off: take 4 or more."),
    ("site-calibration", {"pairs": "1; 50; 20\n2; ninety; 20"}, "Pairs",
     "Line 2: “ninety” is not a number. Type digits, as 2.5 or 2,5."),
    ("site-calibration", {"conductivity": 200, "temperature": 20}, "Conductivity",
     "The conductivity brought to 20 °C is 200 mS/cm; it must be from 24.8 to 134 mS/cm."),
    ("site-calibration", {"conductivity": 50}, "Its temperature",
     "A reading needs both its conductivity and its temperature."),
    ("tank-gas", {"air": 300}, "Pressure of the air",
     "The air's pressure is 300 mbar; it must be from 500 to 1100 mbar."),
    ("tank-gas", {"target": 0}, "Purge to below",
     "0 % CO2 is too little: at least 0.0001 % CO2."),
    ("tank-gas", {"solution": 0}, "Volume of the solution, at 20 °C",
     "The solution is 0 kg; it must be above 0 kg."),
    ("cooling-vacuum", {"final": 120}, "Temperature it cools to",
     "The final temperature is 120 °C; it must be from 0 to 100 °C."),
    ("spray", {"device": "rotary"}, "Spray device",
     "A rotary head has no rule of thumb: take flow and pressure from its maker's curve."),
    ("spray", {"diameter": 25}, "Diameter inside",
     "The diameter is 25 m; it must be above 0 and at most 20 m."),
    ("line-flow", {"bore_2": 600, "length_2": 2}, "Bore 2, inside",
     "The bore is 600 mm; it must be above 0 and at most 500 mm."),
    ("line-flow", {"bore_2": 60}, "Length 2", ("A length of line needs both its bore and its "
     "length.")),
    ("line-flow", {"substance": "NaOH", "strength": 8}, "Its strength",
     "The strength of NaOH is 8 % w/w; it must be from 0 to 5 % w/w."),
    ("rinse-line", {"margin": 0.5}, "Volumes to push through",
     "The margin is 0.5; it must be from 1 to 10."),
    ("rinse-vessel", {"reduction": 0.5}, "Bring the residue down",
     "The reduction is 0.5; it must be at least 1."),
    ("heating", {"start": 80, "end": 20}, "To",
     "The end (20 °C) is colder than the start (80 °C): this is a sum for warming."),
    ("heating", {"efficiency": 0}, "Share of its heat that gets there",
     "0 % is too little: at least 1 %."),
    ("cold-steel", {"steel_temperature": 110}, "Temperature of the steel",
     "The temperature of the steel is 110 °C; it must be from -30 to 100 °C."),
    ("lethality", {"reference": "F"}, "Reference temperature of your own",
     "F of your own needs its temperature and its z."),
    ("lethality", {"reference": "F", "own_reference": 70, "own_z": 1}, "z of your own",
     "The z is 1 K; it must be from 2 to 50 K."),
    ("lethality-trace", {"trace": "0; 60"}, "Time and temperature",
     "A lethality needs at least two temperatures; there is 1."),
    ("lethality-trace", {"trace": "10; 60\n5; 70"}, "Time and temperature",
     ("Reading 2 comes before the one above it: put them in order. A trace over midnight needs "
     "minutes, not clock times.")),
    ("lethality-trace", {"max_gap": 0}, "Longest gap to bridge",
     "0 min is too little: at least 0.01 min."),
    ("repeats", {"readings": "1 1 5\n1 1 6\n1 2 9\n1 2 8"}, "Person, place and RLU",
     "It takes at least two people who each read at least two places at least twice."),
    ("repeats", {"readings": "1 1 5\n1 2 6\n2 1 9"}, "Person, place and RLU",
     "Every person has to read every place the same number of times."),
    ("repeats", {"readings": "1 1 5.5\n1 2 6"}, "Person, place and RLU",
     "Reading 1 is 5.5: RLU are whole, from 0."),
    ("repeats", {"readings": "1 1\n"}, "Person, place and RLU",
     "Line 1, “1 1”: it needs person, place and RLU, with a space or semicolon between them."),
    ("colonies", {"volume_2": 0}, "Volume on dish 2",
     "The volume on the dish is 0 mL; it must be from 0.001 to 10000 mL."),
    ("colonies", {"colonies_1": 2.5}, "Colonies on dish 1",
     "“2.5” is not a whole number. Type digits only, as 12."),
    ("colonies", {"suspension": 10}, "Area swabbed",
     "A swab needs both the mL it was taken up in and its area."),
    ("most-probable-number", {"grew_2": 6}, "Grew, second", "6 of 5 tubes cannot have grown."),
    ("cost", {"caustic_strength": 60}, "Strength of the caustic",
     "The strength of caustic concentrate is 60 % w/w; it must be from 0 to 50 % w/w."),
    ("cost", {"caustic_strength": 55, "caustic_concentrate": 70}, "Strength of the caustic",
     f"The strength of NaOH is 55 % w/w; it {CAUSTIC_RANGE}"),
    ("cost", {"caustic_concentrate": ""}, "Strength of the caustic in the drum",
     "Give the strength of the caustic in the drum."),
    ("cost", {"caustic_volume": "-5"}, "Caustic solution", "-5 L is too little: at least 0 L."),
    ("cost", {"caustic_temperature": 120}, "Caustic warmed to",
     "The temperature of “caustic” is 120 °C; it must be from 0 to 99 °C."),
    ("cost", {"caustic_kept": 110}, "Caustic that is kept", "110 % is too much: at most 100 %."),
    ("cost", {"acid_volume": 100, "acid_strength": 20, "acid_temperature": 70},
     "Strength of the acid",
     "“acid”: The strength of HNO3 is 20 % w/w; it must be from 0 to 6.54 % w/w."),
    ("cost", {"acid_volume": 100, "acid_substance": "HNO3+H3PO4", "acid_equivalent": 0.5},
     "Equivalent weight of a blend",
     "The equivalent weight is 0.5 g; it must be from 1 to 500 g."),
    ("cost", {"sanitiser_volume": 100, "sanitiser_strength": 9000}, "Strength of the sanitiser",
     "The strength of the sanitiser is 9000 mg/L; it must be from 0 to 5000 mg/L."),
    ("cost", {"hot_volume": 100, "hot_temperature": 130}, "Water warmed to",
     "The temperature of “hot water” is 130 °C; it must be from 0 to 99 °C."),
    ("cost", {"supply": 120}, "Water as it comes",
     "The temperature of the water is 120 °C; it must be from 0 to 99 °C."),
    ("cost", {"vessel_volume": 0}, "Volume of the vessel",
     "The vessel is 0 hL; it must be above 0 hL."),
]  # fmt: skip


@pytest.mark.usefixtures("brewery")
@pytest.mark.parametrize(
    "slug, inputs, label, message", BAD, ids=[f"{case[0]}-{case[2]}" for case in BAD]
)
def test_refusal_stands_beside_its_field(
    client: Client, slug: str, inputs: dict[str, Any], label: str, message: str
) -> None:
    response = ask(client, slug, **inputs)
    assert response.status_code == 200
    assert errors(response)[label] == [message]
    assert figures(response) == {}
    page = response.content.decode()
    for text in inputs.values():
        assert str(text).split("\n")[0] in page


def test_every_calculator_is_refused_something() -> None:
    assert {case[0] for case in BAD} == set(BY_SLUG)


def _typed_fields(slug: str, brewery: Brewery) -> list[str]:
    """The fields that take a number."""
    form = BY_SLUG[slug]({}, brewery=brewery)
    return [name for name, field in form.fields.items() if hasattr(field, "low")]


# All that this one takes is lines.
@pytest.mark.parametrize("slug", sorted(set(BY_SLUG) - {"repeats"}))
def test_words_in_every_number_field_are_kept(client: Client, brewery: Brewery, slug: str) -> None:
    names = _typed_fields(slug, brewery)
    response = ask(client, slug, **{name: f"rather {name}" for name in names})
    page = response.content.decode()
    assert re.findall(r'value="rather (\w+)"', page) == [
        name for _, part in BY_SLUG[slug].parts for name in part if name in names
    ]
    said = [message for messages in errors(response).values() for message in messages]
    assert said != []
    fields = BY_SLUG[slug].base_fields
    assert {message.partition("”")[2] for message in said} == {
        " is not a whole number. Type digits only, as 12."
        if isinstance(fields[name], CountField)
        else " is not a number. Type digits, as 2.5 or 2,5."
        for name in names
    }


@pytest.mark.parametrize("slug", BY_SLUG)
@pytest.mark.parametrize("text", ["0", "-1", "1e9", "999999999999", "", "١"])
def test_no_number_is_too_odd_for_a_page(
    client: Client, brewery: Brewery, slug: str, text: str
) -> None:
    """Each field in turn: an answer or an error, never a breakdown or both."""
    for name in _typed_fields(slug, brewery):
        response = ask(client, slug, **{name: text})
        assert response.status_code == 200
        assert bool(figures(response)) != (b'role="alert"' in response.content), name


@pytest.mark.parametrize("slug", BY_SLUG)
def test_decimal_comma_gives_the_same_answer(client: Client, brewery: Brewery, slug: str) -> None:
    inputs = example(slug, brewery)
    commas = {
        name: text.replace(".", ",") if name in _typed_fields(slug, brewery) else text
        for name, text in inputs.items()
    }
    assert figures(ask(client, slug, **commas)) == figures(ask(client, slug, **inputs)) != {}


@pytest.mark.usefixtures("brewery")
def test_unknown_choice_is_refused_beside_its_field(client: Client) -> None:
    response = ask(client, "make-up", substance="beer", agent="999")
    assert errors(response) == {
        "Agent of the brewery": ["“999” is not in the list. Choose one of it."],
        "Substance": ["“beer” is not in the list. Choose one of it."],
    }


@pytest.mark.usefixtures("brewery")
def test_conductivity_above_the_table_says_what_to_do(client: Client) -> None:
    response = ask(client, "conductivity", conductivity=300)
    (message,) = errors(response)["Conductivity"]
    assert message.startswith("300 mS/cm at 20 °C is more than 5 % w/w NaOH has (")
    assert message.endswith("Titrate, or dilute and measure again.")


@pytest.mark.usefixtures("american")
def test_refusal_speaks_the_units_of_the_site(client: Client) -> None:
    response = ask(client, "strength", temperature=230)
    assert errors(response) == {
        "Temperature of the volume": [
            "The temperature of NaOH is 230 °F; it must be at least 32 °F and at most 212 °F."
        ]
    }
    full = ask(client, "top-up", present=263, present_strength=1, volume=264.172)
    (message,) = errors(full)["Volume there"]
    assert message.endswith("Drain 6 L (1.585 US gal) first.")
