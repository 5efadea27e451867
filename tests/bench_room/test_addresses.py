"""An address contains all inputs: its link gives the same answer, here and at another site."""

from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client

from brewhygiene.bench.catalogue import BY_SLUG
from brewhygiene.brewery.models import Brewery
from tests.bench_room.pages import ask, errors, example, figures
from tests.factories import make_agent, make_brewery, make_peracetic, make_vessel

pytestmark = pytest.mark.django_db


def inputs_of(address: str) -> dict[str, str]:
    return {name: values[0] for name, values in parse_qs(urlsplit(address).query).items()}


@pytest.mark.parametrize("slug", BY_SLUG)
def test_empty_page_asks_and_answers_nothing(client: Client, brewery: Brewery, slug: str) -> None:
    response = client.get(f"/bench/{slug}/")
    assert response.status_code == 200
    assert (figures(response), errors(response)) == ({}, {})
    assert "The fields show an example." in response.content.decode()


@pytest.mark.parametrize("slug", BY_SLUG)
def test_printed_address_gives_the_same_answer(client: Client, brewery: Brewery, slug: str) -> None:
    """What an address leaves out is the example's; the printed one leaves out nothing."""
    inputs = example(slug, brewery)
    first = next(iter(inputs))
    short = ask(client, slug, **{first: inputs[first]})
    link = client.get(short.context["link"])
    assert figures(link) == figures(short) == figures(ask(client, slug, **inputs)) != {}
    assert short.context["link"] == link.context["link"]
    assert inputs_of(short.context["link"]) == {
        name: text for name, text in inputs.items() if text
    } | {"units": "C_hL_L/min"}


@pytest.mark.parametrize("slug", BY_SLUG)
def test_link_keeps_its_meaning_at_a_site_of_other_units(client: Client, slug: str) -> None:
    here = make_brewery()
    link = ask(client, slug, **example(slug, here)).context["link"]
    before = figures(client.get(link))
    make_brewery(temperature_unit="F", volume_unit="gal", flow_unit="gpm")
    there = client.get(link)
    assert there.status_code == 302
    assert inputs_of(there["Location"])["units"] == "F_gal_gpm"
    make_brewery()
    back = client.get(there["Location"])
    after = figures(client.get(back["Location"]))
    assert after.keys() == before.keys()
    for label, shown in before.items():
        if label in (
            "valid conductivity",
            "valid temperature",
            "to add",
            "residual standard deviation",
        ):
            continue  # words, or a rounding's own size
        # Six digits travel in an address.
        assert after[label].number == pytest.approx(shown.number, rel=2e-4, abs=1e-6), label


@pytest.mark.usefixtures("american")
def test_american_site_types_and_reads_its_own_units(client: Client) -> None:
    response = ask(client, "make-up", volume="264.172", temperature="68", target="2")
    shown = figures(response)
    # 26.7672 L: mass balance with the densities of CRC and Perry (computed).
    assert shown["concentrate"].unit == "US gal"
    assert shown["concentrate"].number == pytest.approx(26.7672 / 3.785411784, abs=0.002)
    assert shown["maximum temperature rise"].unit == "°F"
    page = response.content.decode()
    assert "Finished volume: 264.172 US gal = 1000 L" in page
    assert "Temperature of the solution: 68 °F = 20 °C" in page


@pytest.mark.usefixtures("american")
def test_american_site_pastes_readings_in_its_own_unit(client: Client) -> None:
    """170 °F for 5 minutes: California Food and Agricultural Code 33519 (read), 1254 PU."""
    response = ask(client, "logged-temperature", readings="0; 170\n5; 170", max_gap="10")
    assert figures(response)["pasteurisation units"].number == pytest.approx(1254, abs=0.5)
    assert figures(response)["highest temperature"].value == "170"


@pytest.mark.usefixtures("american")
def test_american_site_reads_flow_and_vessel_in_its_own_units(client: Client) -> None:
    line = figures(ask(client, "line-flow", flow="46.683"))
    assert line["velocity in the line"].number == pytest.approx(1.5, abs=0.001)
    assert line["flow needed"].unit == "US gpm"
    assert figures(ask(client, "tank-gas", volume="25"))["air to purge"].note.endswith("bbl")


@pytest.mark.usefixtures("brewery")
def test_agent_is_written_out_into_the_address(client: Client) -> None:
    agent = make_peracetic(concentrate_strength_ww=15, concentrate_density_kg_l=1.15)
    response = ask(client, "make-up", agent=agent.pk, target="150", basis="mg_l", volume="500")
    assert response.status_code == 302
    assert response["Location"].endswith("#answer")
    inputs = inputs_of(response["Location"])
    assert "agent" not in inputs
    assert [inputs[name] for name in ("substance", "concentrate_ww", "density_kg_l")] == [
        "PAA", "15", "1.15",
    ]  # fmt: skip
    assert [inputs[name] for name in ("target", "basis", "volume")] == ["150", "mg_l", "500"]
    # 500 L of 150 mg/L are 75 g; at 15 % 500 g, at 1.15 kg/L 434.8 mL (computed by hand; the
    # solution is taken as 1 kg/L on the way to % w/w, its density then as water's).
    shown = figures(client.get(response["Location"]))["concentrate"]
    assert shown.unit == "mL"
    assert shown.number == pytest.approx(434.8, rel=0.003)


@pytest.mark.usefixtures("brewery")
def test_link_stays_true_when_the_agent_changes(client: Client) -> None:
    agent = make_agent()
    link = ask(client, "make-up", agent=agent.pk)["Location"]
    before = figures(client.get(link))
    agent.concentrate_strength_ww = 30
    agent.save()
    assert figures(client.get(link)) == before


@pytest.mark.usefixtures("brewery")
def test_only_agents_that_fit_are_offered(client: Client) -> None:
    make_agent(name="Caustic liquor 50 %")
    make_agent(name="Old caustic", active=False)
    make_peracetic(name="Peracetic acid 15 %")
    page = client.get("/bench/titration/").content.decode()
    offered = [name for name in ("Caustic liquor", "Old caustic", "Peracetic") if name in page]
    assert offered == ["Caustic liquor"]


def test_vessel_is_written_out_in_the_units_of_the_site(client: Client, american: Brewery) -> None:
    vessel = make_vessel(volume_hl=30, vacuum_rating_mbar=50)
    inputs = inputs_of(ask(client, "tank-gas", vessel=vessel.pk)["Location"])
    assert (inputs["volume"], inputs["rating"]) == ("25.565", "50")
    assert float(inputs["volume"]) == pytest.approx(30 / 1.173478, abs=0.001)  # 31 US gal a bbl


@pytest.mark.usefixtures("brewery")
def test_vessel_without_a_rating_is_taken_to_stand_none(client: Client) -> None:
    vessel = make_vessel(vacuum_rating_mbar=None)
    response = client.get(ask(client, "tank-gas", vessel=vessel.pk)["Location"])
    page = response.content.decode()
    assert "this vessel has no vacuum rating. Open an air path first." in page


@pytest.mark.usefixtures("brewery")
def test_rotary_head_of_a_vessel_is_sent_to_its_curve(client: Client) -> None:
    vessel = make_vessel(spray_device="rotary_jet", diameter_m=1.4)
    response = client.get(ask(client, "spray", vessel=vessel.pk)["Location"])
    assert errors(response) == {
        "Spray device": [
            (
                "There is no rule of thumb for a rotary head. See its maker's curve for flow and "
                "pressure."
            )
        ]
    }


@pytest.mark.usefixtures("brewery")
def test_address_with_a_former_name_of_a_field_gives_the_same_answer(client: Client) -> None:
    """10 PU, by definition: 10 min at 60 °C."""
    for name in ("trace", "readings"):
        response = ask(client, "logged-temperature", **{name: "0; 60\n10; 60"})
        assert figures(response)["pasteurisation units"].number == pytest.approx(10)
        assert "readings=0%3B+60%0A10%3B+60" in response.context["link"]


@pytest.mark.usefixtures("brewery")
def test_foreign_words_in_an_address_are_passed_over(client: Client) -> None:
    response = client.get("/bench/make-up/?campaign=spring&units=nonsense")
    assert (figures(response), errors(response)) == ({}, {})
