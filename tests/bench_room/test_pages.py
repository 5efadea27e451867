"""The bench's pages as such: who may, what they cost, what they warn of."""

import html
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from brewhygiene.bench.catalogue import BY_SLUG, GROUPS
from brewhygiene.ledger.models import Entry
from brewhygiene.people.roles import CELLAR, HEAD_BREWER, OWNER
from tests.bench_room.pages import ask, figures, first
from tests.factories import make_agent, make_user, make_vessel

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("brewery")]

# Session, user, brewery, permissions for the set-up of the page's header; then one for agents or
# vessels where they are offered.
PAGE_QUERIES = 4


def headings(client: Client, path: str) -> list[str]:
    return re.findall(r"<h1>([^<]*)", client.get(path).content.decode())


def test_index_lists_every_calculator_once(client: Client) -> None:
    page = client.get("/bench/").content.decode()
    assert re.findall(r'href="/bench/([a-z-]+)/"', page) == [
        kind.slug for group in GROUPS for kind in group.calculators
    ]
    assert headings(client, "/bench/") == ["Tools"]


@pytest.mark.parametrize("slug", BY_SLUG)
def test_page_has_its_own_heading(client: Client, slug: str) -> None:
    assert headings(client, f"/bench/{slug}/") == [BY_SLUG[slug].title]


@pytest.mark.parametrize("slug", BY_SLUG)
def test_parts_show_every_field_once(slug: str) -> None:
    kind = BY_SLUG[slug]
    shown = [name for _, names in kind.fieldsets for name in names]
    assert sorted(shown) == sorted(kind.base_fields)


@pytest.mark.parametrize("slug", BY_SLUG)
def test_no_two_fields_of_a_page_are_called_alike(slug: str) -> None:
    labels = [str(field.label) for field in BY_SLUG[slug].base_fields.values()]
    assert sorted(labels) == sorted(set(labels))


@pytest.mark.parametrize("role", [CELLAR, HEAD_BREWER, OWNER])
def test_every_role_may(role: str) -> None:
    client = Client()
    client.force_login(make_user(role))
    assert client.get("/bench/make-up/").status_code == 200


@pytest.mark.parametrize("path", ["/bench/", "/bench/make-up/?target=2"])
def test_outsider_is_sent_to_sign_in(path: str) -> None:
    response = Client().get(path)
    assert response.status_code == 302
    assert response["Location"].startswith("/sign-in/?next=/bench/")


def test_unknown_calculator_is_not_found(client: Client) -> None:
    assert client.get("/bench/perpetual-motion/").status_code == 404


def test_nothing_can_be_sent_to_the_bench(client: Client) -> None:
    assert client.post("/bench/make-up/", {"target": 2}).status_code == 405
    assert client.post("/bench/").status_code == 405


def test_a_calculation_writes_nothing(client: Client) -> None:
    before = Entry.objects.count()
    ask(client, "make-up", target=2)
    assert Entry.objects.count() == before


@pytest.mark.parametrize("many", [1, 3])
@pytest.mark.parametrize(
    "path, more",
    [("/bench/", 0), ("/bench/mix/?second=50", 0), ("/bench/make-up/?target=2", 1),
     ("/bench/tank-gas/?volume=30", 1), ("/bench/cost/?vessel_volume=30", 2)],
)  # fmt: skip
def test_page_makes_as_many_queries_for_one_row_as_for_three(
    client: Client, django_assert_num_queries: Callable[..., Any], path: str, more: int, many: int
) -> None:
    for _ in range(many):
        make_agent()
        make_vessel()
    with django_assert_num_queries(PAGE_QUERIES + more):
        client.get(path)


@pytest.mark.parametrize(
    "slug, inputs, cautions",
    [
        ("make-up", {"target": 2}, ["Caustic burns"]),
        ("make-up", {"substance": "HNO3", "concentrate_ww": 53},
         ["Acid burns", "No chlorine near acid"]),
        ("make-up", {"substance": "PAA", "concentrate_ww": 15, "density_kg_l": 1.15,
                     "target": 0.02}, ["Peracetic acid stings eyes and lungs"]),
        ("tank-gas", {"volume": 30},
         ["Vessel vented", "CO2 purged", "Air path open", "Vacuum valve free", "Caustic burns",
          "CO2 monitor read", "Nobody enters"]),
        ("heating", {"end": 80},
         ["Hot liquid under pump pressure", "Never cold into hot and closed"]),
    ],
)  # fmt: skip
def test_hazards_are_said(
    client: Client, slug: str, inputs: dict[str, Any], cautions: list[str]
) -> None:
    page = ask(client, slug, **inputs).content.decode()
    assert re.findall(r"<li><strong>([^<]*)</strong><br>", page) == cautions
    assert "do not replace the safety data sheet" in page


@pytest.mark.parametrize(
    "inputs, rule",
    [
        ({"substance": "NaOH"}, ("Always add caustic or acid to water, slowly and stirring. Never "
                                 "add water to the concentrate: it boils and spits.")),
        ({"substance": "PAA", "concentrate_ww": 15, "density_kg_l": 1.15, "target": 0.02},
         "Always add concentrate to water, never water to concentrate."),
    ],
)  # fmt: skip
def test_concentrate_goes_into_the_water(client: Client, inputs: dict[str, Any], rule: str) -> None:
    assert rule in ask(client, "make-up", **inputs).content.decode()


def test_nothing_to_add_is_said(client: Client) -> None:
    response = ask(client, "correct-strength", present_strength=2)
    assert figures(response)["to add"].value == "nothing"
    assert "The solution has the target strength." in response.content.decode()


def test_too_strong_asks_for_water(client: Client) -> None:
    response = ask(client, "correct-strength", present_strength=4)
    assert next(iter(figures(response))) == "water to add"
    assert "Caustic burns" not in response.content.decode()


@pytest.mark.parametrize(
    "rating, words", [(50, "Can collapse"), ("", "No rating recorded"), (1050, "Within its rating")]
)
def test_vacuum_is_held_against_the_rating(client: Client, rating: Any, words: str) -> None:
    page = ask(client, "tank-gas", rating=rating).content.decode()
    assert words.lower() in page.lower()


@pytest.mark.parametrize(
    "flow, words", [(100, "too little flow"), (200, "enough flow"), (300, "more than needed")]
)
def test_spray_flow_is_judged(client: Client, flow: int, words: str) -> None:
    assert words in ask(client, "spray", flow=flow).content.decode()


@pytest.mark.parametrize("flow, words", [(150, "too slow"), (200, "fast enough")])
def test_line_is_judged_in_its_widest_bore(client: Client, flow: int, words: str) -> None:
    assert words in ask(client, "line-flow", flow=flow).content.decode()


def test_several_bores_are_shown_side_by_side(client: Client) -> None:
    page = ask(client, "line-flow", bore_2=65, length_2=5).content.decode()
    assert re.findall(r'<th scope="row">([^<]*)</th>', page) == ["50", "65"]
    assert figures(ask(client, "line-flow", bore_2=65, length_2=5))[
        "velocity in the widest bore"
    ].number == pytest.approx(1.0, abs=0.01)


def test_undefined_flow_gives_no_pressure_drop(client: Client) -> None:
    response = ask(client, "line-flow", flow=7)
    assert "pressure drop" not in figures(response)
    assert "changes between laminar and turbulent" in response.content.decode()


def test_gap_between_readings_counts_nothing(client: Client) -> None:
    response = ask(client, "logged-temperature", readings="0; 60\n5; 60\n65; 60\n70; 60")
    # 1 PU a minute at 60 °C, by definition.
    assert figures(response)["pasteurisation units"].number == pytest.approx(10)
    assert "Not counted: 60 min in 1 gap longer than 10 min." in response.content.decode()


def test_clock_times_are_read_as_such(client: Client) -> None:
    clock = ask(client, "logged-temperature", readings="7:05 60\n7:10:30 60", times="s")
    assert figures(clock)["pasteurisation units"].number == pytest.approx(5.5)


def test_five_cases_of_used_caustic_are_named(client: Client) -> None:
    """Standard Methods 2320 B, table 2320:II (relations read)."""
    cases = []
    for reading in (0, 4, 10, 15, 20):
        page = ask(
            client, "used-caustic", first_reading=reading, second_reading=20
        ).content.decode()
        cases.append(html.unescape(first(r"The case is (.*?)\. P is", page)))
    assert cases == ["P = 0", "P < T/2", "P = T/2", "P > T/2", "P = T"]
