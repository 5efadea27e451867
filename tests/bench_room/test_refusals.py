"""A refusal stands beside its field, and everything typed is still there."""

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
     f"The strength of NaOH is 60 % w/w. It {CAUSTIC_RANGE}"),
    ("strength", {"temperature": 120}, "Temperature of the solution",
     "The temperature of NaOH is 120 °C. It must be from 0 to 100 °C."),
    ("strength", {"substance": "H3PO4", "basis": "eq_l"}, "Equivalents per mole",
     ("A normality of H3PO4 depends on its end point. Choose whether a mole counts as 1 or 2 "
      "equivalents.")),
    ("make-up", {"target": 50}, "Strength of the concentrate",
     "A concentrate of 50 % w/w cannot give 50 % w/w. Choose a stronger one."),
    ("make-up", {"concentrate_ww": 60}, "Strength of the concentrate",
     f"The strength of NaOH is 60 % w/w. It {CAUSTIC_RANGE}"),
    ("make-up", {"volume": 0}, "Finished volume", "The volume is 0 L. It must be above 0 L."),
    ("make-up", {"volume": "-5"}, "Finished volume", "-5 L is too low. Enter at least 0 L."),
    ("make-up", {"substance": "PAA", "concentrate_ww": 15, "target": 150, "basis": "mg_l"},
     "Density of the concentrate", "Enter the density of the PAA concentrate in kg/L."),
    ("make-up", {"substance": "PAA", "density_kg_l": 1.1, "target": 2, "basis": "wv"},
     "Unit of strength",
     "There is no density table of PAA to convert % w/v to ww."),
    ("into-water", {"water": 0}, "Water in the tank", "The water is 0 L. It must be above 0 L."),
    ("top-up", {"present": 995, "present_strength": 1}, "Volume in the tank",
     ("The tank is too full. Its solution and the concentrate are more than the finished volume. "
      "Drain 5 L first.")),
    ("top-up", {"present_strength": 5}, "Strength in the tank",
     ("The tank already contains 42.15 kg active, more than the 20.414 kg that the finished "
      "volume needs. Drain 413 L first, or dilute to a larger volume.")),
    ("top-up", {"capacity": 900}, "Capacity of the tank",
     "1000 L does not fit into a tank of 900 L."),
    ("correct-strength", {"capacity": 1000}, "Capacity of the tank",
     "The result is 1005.8 L, and the tank contains at most 1000 L. Drain some solution first."),
    ("mix", {"second_ww": 60}, "Strength added",
     f"The strength of NaOH is 60 % w/w. It {CAUSTIC_RANGE}"),
    ("titration", {"reading": 1, "blank": 2}, "Titrant used",
     "The reading of 1 mL is below the blank of 2 mL."),
    ("titration", {"sample": 0}, "Sample", "The sample is 0 mL. It must be above 0 mL."),
    ("titration", {"substance": "HNO3+H3PO4"}, "Equivalent weight",
     "Enter the equivalent weight of the blend. See its label."),
    ("used-caustic", {"first_reading": 12, "second_reading": 11.5}, "Reading to methyl orange",
     ("The second end point, 11.5 mL, comes before the first, 12 mL. If it is counted from the "
      "first end point, choose that.")),
    ("mixed-acid", {"first_reading": 5, "second_reading": 11}, "Reading to pH 9.5",
     ("From the first end point to the second took 6 mL, more than the 5 mL to the first. This is "
      "not a mixture of nitric and phosphoric acid.")),
    ("peracetic", {"dilution": 0.5}, "Sample dilution",
     "The dilution is 0.5 times. It must be at least 1 times."),
    ("chlorine-iodine", {"titrant": 0}, "Titrant strength",
     "The titrant's strength is 0 eq/L. It must be above 0 eq/L."),
    ("conductivity", {"temperature": 95}, "Temperature of the solution",
     "The temperature of the solution is 95 °C. It must be from 5 to 90 °C."),
    ("compensation", {"alpha": 15}, "Coefficient α",
     "15 % per K is too high. Enter at most 10 % per K."),
    ("rinse-end", {"solution": 90}, "Temperature of the cleaning solution",
     "Enter the cleaning solution's temperature with its conductivity."),
    ("rinse-end", {"limit": 0}, "Maximum above fresh water",
     "The limit is 0 mS/cm. It must be above 0 mS/cm."),
    ("site-calibration", {"pairs": "1; 50; 20\n2; 90; 20"}, "Pairs",
     "2 pairs are too few for a line and its uncertainty. Enter at least 4."),
    ("site-calibration", {"pairs": "1; 50; 20\n2; ninety; 20"}, "Pairs",
     "Line 2: “ninety” is not a number. Enter digits, e.g. 2.5 or 2,5."),
    ("site-calibration", {"conductivity": 200, "temperature": 20}, "Conductivity",
     "The conductivity brought to 20 °C is 200 mS/cm. It must be from 24.8 to 134 mS/cm."),
    ("site-calibration", {"conductivity": 50}, "Temperature",
     "Enter both conductivity and temperature, or neither."),
    ("tank-gas", {"air": 300}, "Atmospheric pressure",
     "The atmospheric pressure is 300 mbar. It must be from 500 to 1100 mbar."),
    ("tank-gas", {"target": 0}, "Purge target",
     "0 % CO2 is too low. Enter at least 0.0001 % CO2."),
    ("tank-gas", {"solution": 0}, "Volume of solution, at 20 °C",
     "The solution is 0 kg. It must be above 0 kg."),
    ("cooling-vacuum", {"final": 120}, "Temperature when cooled",
     "The final temperature is 120 °C. It must be from 0 to 100 °C."),
    ("spray", {"device": "rotary"}, "Spray device",
     "There is no rule of thumb for a rotary head. See its maker's curve for flow and pressure."),
    ("spray", {"diameter": 25}, "Inside diameter",
     "The diameter is 25 m. It must be above 0 and at most 20 m."),
    ("line-flow", {"bore_2": 600, "length_2": 2}, "Inside bore 2",
     "The bore is 600 mm. It must be above 0 and at most 500 mm."),
    ("line-flow", {"bore_2": 60}, "Length 2", ("Enter both bore and length, or neither.")),
    ("line-flow", {"substance": "NaOH", "strength": 8}, "Strength of the liquid",
     "The strength of NaOH is 8 % w/w. It must be from 0 to 5 % w/w."),
    ("rinse-line", {"margin": 0.5}, "Line volumes to push through",
     "The margin is 0.5. It must be from 1 to 10."),
    ("rinse-vessel", {"reduction": 0.5}, "Reduction of the residue",
     "The reduction is 0.5. It must be at least 1."),
    ("heating", {"start": 80, "end": 20}, "End temperature",
     "The end (20 °C) is colder than the start (80 °C). Enter an end temperature above the start."),
    ("heating", {"efficiency": 0}, "Heater efficiency",
     "0 % is too low. Enter at least 1 %."),
    ("cold-steel", {"steel_temperature": 110}, "Temperature of the steel",
     "The temperature of the steel is 110 °C. It must be from -30 to 100 °C."),
    ("lethality", {"reference": "F"}, "Your own reference temperature",
     "Enter the reference temperature and z of your own F."),
    ("lethality", {"reference": "F", "own_reference": 70, "own_z": 1}, "Your own z",
     "The z is 1 K. It must be from 2 to 50 K."),
    ("logged-temperature", {"readings": "0; 60"}, "Time and temperature",
     "A lethality needs at least two temperatures. Entered: 1."),
    ("logged-temperature", {"readings": "10; 60\n5; 70"}, "Time and temperature",
     ("Reading 2 comes before the one above it. Sort the readings by time. For readings past "
      "midnight, enter minutes, not clock times.")),
    ("logged-temperature", {"max_gap": 0}, "Longest gap to bridge",
     "0 min is too low. Enter at least 0.01 min."),
    ("repeatability", {"readings": "1 1 5\n1 1 6\n1 2 9\n1 2 8"}, "Person, sampling point and RLU",
     "Enter at least two people, two points each, and two readings at each point."),
    ("repeatability", {"readings": "1 1 5\n1 2 6\n2 1 9"}, "Person, sampling point and RLU",
     "Every person must take the same number of readings at every point."),
    ("repeatability", {"readings": "1 1 5.5\n1 2 6"}, "Person, sampling point and RLU",
     "Reading 1 is 5.5. Enter RLU as whole numbers from 0."),
    ("repeatability", {"readings": "1 1\n"}, "Person, sampling point and RLU",
     "Line 1, “1 1”: enter person, point and RLU, separated by a space or semicolon."),
    ("colonies", {"volume_2": 0}, "Volume on dish 2",
     "The volume on the dish is 0 mL. It must be from 0.001 to 10000 mL."),
    ("colonies", {"colonies_1": 2.5}, "Colonies on dish 1",
     "“2.5” is not a whole number. Enter digits only, e.g. 12."),
    ("colonies", {"suspension": 10}, "Area swabbed",
     "Enter both the liquid of the swab and its area, or neither."),
    ("most-probable-number", {"grew_2": 6}, "Tubes with growth, second",
     "6 tubes with growth are more than the 5 tubes in all."),
    ("cost", {"caustic_strength": 60}, "Strength of the caustic solution",
     "The strength of caustic concentrate is 60 % w/w. It must be from 0 to 50 % w/w."),
    ("cost", {"caustic_strength": 55, "caustic_concentrate": 70},
     "Strength of the caustic solution",
     f"The strength of NaOH is 55 % w/w. It {CAUSTIC_RANGE}"),
    ("cost", {"caustic_concentrate": ""}, "Strength of the caustic concentrate",
     "Enter the strength of the caustic concentrate."),
    ("cost", {"caustic_volume": "-5"}, "Volume of caustic solution",
     "-5 L is too low. Enter at least 0 L."),
    ("cost", {"caustic_temperature": 120}, "Temperature of the caustic",
     "The temperature of “caustic” is 120 °C. It must be from 0 to 99 °C."),
    ("cost", {"caustic_kept": 110}, "Caustic recovered", "110 % is too high. Enter at most 100 %."),
    ("cost", {"acid_volume": 100, "acid_strength": 20, "acid_temperature": 70},
     "Strength of the acid solution",
     "“acid”: The strength of HNO3 is 20 % w/w. It must be from 0 to 6.54 % w/w."),
    ("cost", {"acid_volume": 100, "acid_substance": "HNO3+H3PO4", "acid_equivalent": 0.5},
     "Equivalent weight of a blend",
     "The equivalent weight is 0.5 g. It must be from 1 to 500 g."),
    ("cost", {"sanitiser_volume": 100, "sanitiser_strength": 9000},
     "Strength of the sanitiser solution",
     "The strength of the sanitiser is 9000 mg/L. It must be from 0 to 5000 mg/L."),
    ("cost", {"hot_volume": 100, "hot_temperature": 130}, "Temperature of the hot water",
     "The temperature of “hot water” is 130 °C. It must be from 0 to 99 °C."),
    ("cost", {"supply": 120}, "Temperature of the water supply",
     "The temperature of the water is 120 °C. It must be from 0 to 99 °C."),
    ("cost", {"vessel_volume": 0}, "Vessel volume",
     "The vessel is 0 hL. It must be above 0 hL."),
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
@pytest.mark.parametrize("slug", sorted(set(BY_SLUG) - {"repeatability"}))
def test_words_in_every_number_field_are_kept(client: Client, brewery: Brewery, slug: str) -> None:
    names = _typed_fields(slug, brewery)
    response = ask(client, slug, **{name: f"rather {name}" for name in names})
    page = response.content.decode()
    assert re.findall(r'value="rather (\w+)"', page) == [
        name for _, part in BY_SLUG[slug].fieldsets for name in part if name in names
    ]
    said = [message for messages in errors(response).values() for message in messages]
    assert said != []
    fields = BY_SLUG[slug].base_fields
    assert {message.partition("”")[2] for message in said} == {
        " is not a whole number. Enter digits only, e.g. 12."
        if isinstance(fields[name], CountField)
        else " is not a number. Enter digits, e.g. 2.5 or 2,5."
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
        "Agent": ["“999” is not in the list. Choose one that is."],
        "Substance": ["“beer” is not in the list. Choose one that is."],
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
        "Temperature of the solution": [
            "The temperature of NaOH is 230 °F. It must be at least 32 °F and at most 212 °F."
        ]
    }
    full = ask(client, "top-up", present=263, present_strength=1, volume=264.172)
    (message,) = errors(full)["Volume in the tank"]
    assert message.endswith("Drain 6 L (1.585 US gal) first.")
