"""The cost of a clean on the bench: whose prices, what is kept, what is left out."""

import re

import pytest
from django.http import HttpResponse
from django.test import Client

from tests.bench_room.pages import ask, errors, figures, working
from tests.bench_room.test_addresses import inputs_of
from tests.factories import make_agent, make_brewery, make_peracetic, make_vessel

pytestmark = pytest.mark.django_db

PRICES = {
    "currency": "GBP",
    "water_price_hl": 0.5,
    "effluent_price_hl": 0.4,
    "load_price_kg_naoh": 0.6,
    "energy_price_kwh": 0.1,
    "minute_price": 0.5,
    "supply_water_c": 12,
    "heat_efficiency": 0.8,
}
# One rinse of 300 L in 5 min and nothing else.
RINSE = {"rinse_flow": 60, "rinse_minutes": 5, "caustic_volume": ""}


def rows(response: HttpResponse) -> list[list[str]]:
    """The table of the steps."""
    body = response.content.decode().partition("<tbody>")[2].partition("</tbody>")[0]
    return [
        re.findall(r"<t[hd][^>]*>([^<]*)</t[hd]>", row)
        for row in body.split("</tr>")
        if "<t" in row
    ]


def test_prices_are_the_brewerys_unless_typed(client: Client) -> None:
    """3 hL at 0.50 and 0.40, and 5 min at 0.50: 1.50 + 1.20 + 2.50."""
    make_brewery(**PRICES)
    ours = figures(ask(client, "cost", **RINSE))["cost"]
    assert (ours.value, ours.unit, ours.note) == ("5.20", "GBP", "GBP 0.173 per hL")
    typed = figures(ask(client, "cost", **RINSE, water_price=1, effluent_price="", minute_price=0))
    assert typed["cost"].value == "3.00"


@pytest.mark.usefixtures("brewery")
def test_without_prices_there_are_amounts(client: Client) -> None:
    response = ask(client, "cost", **RINSE)
    assert list(figures(response)) == ["water", "effluent", "time"]
    assert "No prices are entered, so there are only amounts." in response.content.decode()


@pytest.mark.usefixtures("brewery")
def test_what_has_no_price_is_named(client: Client) -> None:
    page = ask(client, "cost", water_price=1).content.decode()
    assert (
        "A minimum, because these have no price: time, effluent, caustic concentrate, "
        "alkaline load, heat."
    ) in page


@pytest.mark.usefixtures("brewery")
def test_kept_solution_is_heated_and_not_let_go(client: Client) -> None:
    inputs = {"rinse_flow": "", "rinse_minutes": "", "caustic_volume": 250}
    drained = figures(ask(client, "cost", **inputs))
    kept = figures(ask(client, "cost", **inputs, caustic_kept=60))
    assert (drained["water"].value, kept["water"].value) == ("2.5", "1")
    assert kept["effluent"].value == "1"
    assert kept["caustic concentrate"].number == pytest.approx(
        drained["caustic concentrate"].number * 0.4, abs=0.002
    )
    assert kept["heat"] == drained["heat"]


@pytest.mark.usefixtures("brewery")
def test_step_without_a_volume_is_left_out(client: Client) -> None:
    response = ask(client, "cost", sanitiser_volume=250, hot_volume=300)
    assert [row[0] for row in rows(response)] == ["Rinses", "Caustic", "Sanitiser", "Hot water"]
    # 250 L of 150 mg/L are 37.5 g, 250 g of 15 %.
    assert rows(response)[2][1:] == ["2.5", "0.25", "0", "10", "no price"]


@pytest.mark.usefixtures("brewery")
def test_what_is_not_given_is_named_and_never_nothing(client: Client) -> None:
    page = ask(client, "cost", rinse_flow="", caustic_strength="").content.decode()
    assert (
        "Not entered, so not counted: rinses: volume, caustic: strength of caustic concentrate."
    ) in page


@pytest.mark.usefixtures("brewery")
def test_no_step_at_all_is_refused(client: Client) -> None:
    response = ask(client, "cost", rinse_flow="", rinse_minutes="", caustic_volume="")
    assert figures(response) == {}
    assert (
        "Enter at least one step: a volume, or the flow and time of rinses."
    ) in response.content.decode()


@pytest.mark.usefixtures("brewery")
def test_blend_without_an_equivalent_weight_has_no_load(client: Client) -> None:
    """2 kg of 75 g/eq are 1.067 kg of NaOH, 39.9971 g/eq."""
    blend = {"acid_volume": 200, "acid_substance": "HNO3+H3PO4"}
    response = ask(client, "cost", **blend)
    assert "acid load, as NaOH" not in figures(response)
    assert "acid: equivalent weight of acid concentrate." in response.content.decode()
    loaded = figures(ask(client, "cost", **blend, acid_equivalent=75))
    assert loaded["acid load, as NaOH"].number == pytest.approx(1.067, abs=0.001)


@pytest.mark.usefixtures("brewery")
def test_agents_and_vessel_are_written_out_into_the_address(client: Client) -> None:
    caustic = make_agent(price_kg=0.9, recovered_share=0.6)
    peracetic = make_peracetic(price_kg=3)
    vessel = make_vessel(volume_hl=60, solution_l=400)
    response = ask(
        client, "cost", vessel=vessel.pk, caustic_agent=caustic.pk, sanitiser_agent=peracetic.pk,
        sanitiser_volume=100, caustic_temperature=60,
    )  # fmt: skip
    assert response.status_code == 302
    inputs = inputs_of(response["Location"])
    assert {"vessel", "caustic_agent", "sanitiser_agent"}.isdisjoint(inputs)
    wanted = {
        "vessel_volume": "60",
        "caustic_volume": "400",
        "sanitiser_volume": "400",
        "caustic_substance": "NaOH",
        "caustic_concentrate": "50",
        "caustic_kept": "60",
        "caustic_price": "0.9",
        "sanitiser_price": "3",
        "sanitiser_substance": "PAA",
        "caustic_temperature": "60",
    }
    assert {name: inputs[name] for name in wanted} == wanted
    assert "acid_volume" not in inputs
    assert errors(client.get(response["Location"])) == {}


@pytest.mark.usefixtures("brewery")
def test_each_step_offers_its_own_agents(client: Client) -> None:
    make_agent(name="Caustic liquor 50 %")
    make_peracetic(name="Peracetic acid 15 %")
    page = client.get("/bench/cost/").content.decode()
    offered = {
        name: re.findall(r"<option value=\"\d+\">([^<]*)", markup)
        for name, markup in re.findall(r'<select name="(\w+)_agent"(.*?)</select>', page, re.DOTALL)
    }
    assert offered == {
        "caustic": ["Caustic liquor 50 %"],
        "acid": [],
        "sanitiser": ["Peracetic acid 15 %"],
    }


@pytest.mark.usefixtures("brewery")
def test_part_is_unfolded_once_something_in_it_is_typed(client: Client) -> None:
    def open_parts(response: HttpResponse) -> list[str]:
        page = response.content.decode()
        return re.findall(r'<details class="disclosure bench-fold" open>\s*<summary>([^<]*)', page)

    assert open_parts(client.get("/bench/cost/")) == []
    assert open_parts(ask(client, "cost", acid_volume=100)) == ["Acid"]
    assert open_parts(ask(client, "cost", hot_volume="lots")) == ["Hot water"]


@pytest.mark.usefixtures("brewery")
def test_working_leads_to_the_cost(client: Client) -> None:
    lines = working(ask(client, "cost", **RINSE, water_price=2))
    assert lines == [
        "volume flow × time = 60 × 5 = 300 L",
        "water volume / 100 = 300 / 100 = 3 hL",
        "effluent volume / 100 = 300 / 100 = 3 hL",
        "water hL × price = 3 × 2 = 6 EUR",
        "total sum = 6 = 6 EUR",
        "per hL of the vessel total ÷ volume = 6 ÷ 30 = 0.2 EUR per hL",
    ]


def test_american_prices_are_per_barrel(client: Client) -> None:
    """0.5 per hL are 0.5867 per US beer barrel of 1.173478 hL."""
    make_brewery(**PRICES, temperature_unit="F", volume_unit="bbl", flow_unit="gpm")
    form = client.get("/bench/cost/").context["form"]
    assert form.default("water_price") == "0.587"
    assert form.fields["water_price"].unit == "GBP per bbl"
    rinse = {"rinse_flow": 31, "rinse_minutes": 10, "caustic_volume": "", "vessel_volume": 20}
    prices = {"water_price": 1, "effluent_price": "", "minute_price": ""}
    shown = figures(ask(client, "cost", **rinse, **prices))
    # 10 bbl at 1, for a vessel of 20.
    assert (shown["water"].value, shown["water"].unit) == ("10", "bbl")
    assert (shown["cost"].value, shown["cost"].note) == ("10.00", "GBP 0.5 per bbl")
