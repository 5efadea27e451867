"""The pages of skids and solutions, and what the step's own page says of them."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.skids.models import GearRinse, Skid, Solution, SolutionCheck, SolutionTank
from brewhygiene.turnarounds.models import Clean, StepRecord
from brewhygiene.turnarounds.steps.solutions.drawing import Draws
from tests import clock
from tests.factories import PASSWORD, make_beer, make_vessel
from tests.skids.scenes import SkidCellar
from tests.turnarounds.floor import as_shown, errors, signed_in

LIST = "/skids/"


def text_of(response: HttpResponse) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def tank_url(tank: SolutionTank, what: str = "") -> str:
    return f"/solution-tanks/{tank.pk}/{what}"


def now_made(house: SkidCellar, **values: Any) -> Solution:
    return house.made_up(now=clock.now() - timedelta(days=2), **values)


def test_a_brewery_without_skids_is_told_what_they_are_for(db: None) -> None:
    from tests.factories import Cellar

    cellar = Cellar()
    client = signed_in(cellar.hand)
    assert "No skid yet" in text_of(client.get(LIST))
    turnaround = cellar.emptied(now=clock.now())
    page = client.get(reverse("turnarounds:regime", args=[turnaround.pk])).content.decode()
    assert "skid" not in page.lower().replace("/skids/", "")


def test_the_list_says_what_each_contains_and_last_carried(house: SkidCellar) -> None:
    made = now_made(house)
    house.used(made, vessel=make_vessel(name="FV 3"), now=clock.now() - timedelta(hours=3))
    house.made_skid("Hose 4", "hose")
    said = text_of(signed_in(house.owner).get(LIST))
    assert "Caustic tank 1: 2 % w/w, made up 2 days ago, 1 use" in said
    assert "Last carried Caustic liquor (invented), in FV 3 on 17 Jun, 07:24" in said
    assert "No agent left since its last proved rinse." in said


def test_the_list_costs_the_same_however_many(
    house: SkidCellar, django_assert_num_queries: Any
) -> None:
    house.used(now_made(house))
    client = signed_in(house.hand)
    client.get(LIST)
    with django_assert_num_queries(LIST_QUERIES):
        client.get(LIST)
    for number in (2, 3):
        skid = house.made_skid(f"Skid {number}")
        now_made(house, tank=house.made_tank(f"Caustic tank {number}", skid))
    with django_assert_num_queries(LIST_QUERIES):
        client.get(LIST)


LIST_QUERIES = 14


def test_set_up_of_a_skid_and_its_tank_by_the_pages(house: SkidCellar) -> None:
    client = signed_in(house.brewer)
    form = client.get("/skids/add/").context["form"]
    typed = as_shown(form, name="Skid 2", kind="skid", volume_hl="0,8", password=PASSWORD)
    answer = client.post("/skids/add/", typed)
    skid = Skid.objects.get(name="Skid 2")
    assert (answer.status_code, answer.headers["Location"]) == (302, f"/skids/{skid.pk}/")
    assert skid.volume_hl == 0.8
    add = f"/skids/{skid.pk}/tanks/add/"
    form = client.get(add).context["form"]
    typed = as_shown(form, name="Acid tank 1", volume_hl="6", most_uses="20", password=PASSWORD)
    client.post(add, typed)
    tank = SolutionTank.objects.get(name="Acid tank 1")
    assert (tank.skid, tank.volume_hl, tank.most_uses, tank.may_explain) == (skid, 6, 20, False)
    assert "After 20 uses, or once soil is seen" in text_of(client.get(tank_url(tank)))
    edit = f"/skids/{skid.pk}/edit/"
    form = client.get(edit).context["form"]
    assert form["volume_hl"].value() == "0.8"
    client.post(edit, as_shown(form, active="", password=PASSWORD))
    skid.refresh_from_db()
    assert skid.active is False


@pytest.mark.parametrize(
    "wrong, field",
    [
        ({"name": ""}, "name"),
        ({"name": "CAUSTIC tank 1"}, "name"),
        ({"volume_hl": "-5"}, "volume_hl"),
        ({"most_uses": "0"}, "most_uses"),
        ({"most_carbonate_percent": "101"}, "most_carbonate_percent"),
        ({"rule_source": ""}, "rule_source"),
        ({"password": "guessed"}, "password"),
    ],
)
def test_a_refused_tank_says_so_beside_its_field_and_keeps_what_was_typed(
    house: SkidCellar, wrong: dict[str, str], field: str
) -> None:
    client = signed_in(house.brewer)
    add = f"/skids/{house.skid.pk}/tanks/add/"
    form = client.get(add).context["form"]
    typed = as_shown(form, name="Acid tank 1", volume_hl="6", password=PASSWORD) | wrong
    answer = client.post(add, typed)
    assert answer.status_code == 422
    assert list(errors(answer)) == [field]
    assert answer.context["form"]["volume_hl"].value() == typed["volume_hl"]
    assert SolutionTank.objects.count() == 1


@pytest.mark.parametrize("what", ["check", "top-up", "dump"])
def test_page_of_a_dumped_solution_offers_nothing_more_to_do(house: SkidCellar, what: str) -> None:
    made = now_made(house)
    client = signed_in(house.hand)
    address = f"/solutions/{made.pk}/{what}/"
    assert client.get(address).status_code == 200
    house.dumped(made, now=clock.now())
    assert client.get(address)["Location"] == f"/solutions/{made.pk}/"


def test_a_solution_is_made_up_titrated_and_dumped_by_the_pages(house: SkidCellar) -> None:
    client = signed_in(house.hand)
    here = tank_url(house.tank, "make-up/")
    page = client.get(here)
    for caution in ("Agent into water", "Never mix agents", "Eyewash within reach"):
        assert caution in text_of(page)
    typed = as_shown(
        page.context["form"],
        agent=house.caustic.pk,
        agent_lot="C-7",
        volume_l="400",
        strength="2",
        amount_kg="16",
    )
    answer = client.post(here, typed)
    assert answer.status_code == 302, errors(answer)
    made = Solution.objects.get()
    assert (made.volume_l, made.strength, made.source) == (400, 2, "read")
    check = f"/solutions/{made.pk}/check/"
    form = client.get(check).context["form"]
    typed = as_shown(form, first_ml="10", second_ml="11,5", titrant_eq_l="0,5", sample_ml="10")
    assert client.post(check, typed).status_code == 302
    shown = client.get(tank_url(house.tank))
    assert "Strength 1.7 % w/v, titrated just now, 0 uses" in text_of(shown)
    assert "Carbonate 26 % of the alkalinity, titrated just now" in text_of(shown)
    assert [event.what for event in shown.context["history"]] == ["Titrated", "Made up"]
    bench = (
        "/bench/used-caustic/?substance=NaOH&amp;titrant=0.5&amp;sample=10.0"
        "&amp;first_reading=10.0&amp;second_reading=11.5"
    )
    assert bench in shown.content.decode()
    assert "26.1 % of the alkalinity" in text_of(client.get(bench.replace("&amp;", "&")))
    # The titrant and the sample are offered again.
    form = client.get(check).context["form"]
    assert (form["titrant_eq_l"].value(), form["sample_ml"].value()) == ("0.5", "10")
    dump = f"/solutions/{made.pk}/dump/"
    form = client.get(dump).context["form"]
    client.post(dump, as_shown(form, reason="renewed"))
    assert "Last contained Caustic liquor (invented). No rinse proved since." in text_of(
        client.get(tank_url(house.tank))
    )
    assert "Dumped" in text_of(client.get(f"/solutions/{made.pk}/"))
    rinse = tank_url(house.tank, "rinse/")
    form = client.get(rinse).context["form"]
    client.post(rinse, as_shown(form, value="7.3", supply_value="7.2"))
    assert GearRinse.objects.get().tank == house.tank
    assert "Nothing is left in it" in text_of(client.get(tank_url(house.tank)))


@pytest.mark.parametrize(
    "wrong, field",
    [
        ({"first_ml": "10", "titrant_eq_l": "", "sample_ml": "10"}, "titrant_eq_l"),
        ({"first_ml": "10", "titrant_eq_l": "0.5", "sample_ml": ""}, "sample_ml"),
        ({"second_ml": "11"}, "first_ml"),
        ({"first_ml": "10", "titrant_eq_l": "1", "sample_ml": "9", "strength": "2"}, "strength"),
        ({"first_ml": "60", "titrant_eq_l": "0.5", "sample_ml": "10"}, "first_ml"),
        ({"first_ml": "ten"}, "first_ml"),
        ({"temperature_c": "700"}, "temperature_c"),
        ({}, "__all__"),
    ],
)
def test_a_refused_reading_says_so_beside_its_field(
    house: SkidCellar, wrong: dict[str, str], field: str
) -> None:
    client = signed_in(house.hand)
    check = f"/solutions/{now_made(house).pk}/check/"
    form = client.get(check).context["form"]
    answer = client.post(check, as_shown(form, **wrong))
    assert answer.status_code == 422
    assert list(errors(answer)) == [field]
    assert {name: answer.context["form"][name].value() for name in wrong} == wrong
    assert not SolutionCheck.objects.exists()


def test_what_a_solution_cost_is_shared_over_its_uses(house: SkidCellar) -> None:
    """16 kg at 0.80 and 4 hL of water at 0.50 are 14.80; over two uses 7.40 each."""
    house.brewery.water_price_hl = 0.5
    house.brewery.save()
    made = now_made(house, amount_kg=16)
    client = signed_in(house.hand)
    currency = house.brewery.currency
    assert f"At least {currency} 14.80" in text_of(client.get(tank_url(house.tank)))
    house.used(made, now=clock.now() - timedelta(hours=5))
    house.used(made, now=clock.now() - timedelta(hours=4))
    said = text_of(client.get(tank_url(house.tank)))
    assert f"At least {currency} 14.80, {currency} 7.40 a use so far" in said
    house.dumped(made, now=clock.now())
    said = text_of(client.get(f"/solutions/{made.pk}/"))
    assert f"Cost {currency} 14.80, {currency} 7.40 a use so far" in said


def chosen_clean(house: SkidCellar) -> tuple[Any, Clean]:
    """By the page, which has the only skid chosen already."""
    version = house.regime(("caustic", house.caustic, ""))
    turnaround = house.emptied(now=clock.now())
    client = signed_in(house.hand)
    here = reverse("turnarounds:regime", args=[turnaround.pk])
    page = client.get(here).context
    forms = [page["proposed_form"], *(form for _, form in page["others"])]
    form = next(form for form in forms if form["version"].value() == version.pk)
    assert form["skid"].value() == house.skid.pk
    client.post(here, as_shown(form, weaker_reason="A test"))
    return client, Clean.objects.get(turnaround=turnaround)


def step_url(clean: Clean) -> str:
    return reverse("turnarounds:step", args=[clean.pk, clean.version.steps.get().pk])


def ticked(client: Any, clean: Clean, **chosen: Any) -> dict[str, Any]:
    """What the form of the safety checks sends, every line ticked, as it is shown."""
    page = client.get(step_url(clean)).context
    codes = [caution.code for caution, _ in page["safety_form"].ticks()]
    solution = page["key_form"]["solution"].value()
    return {"codes": codes, "key": "k", "solution": solution, **chosen}


def test_the_floor_needs_no_more_taps_than_before(house: SkidCellar) -> None:
    """The skid, the solution and where it goes are chosen already: one tap starts the step."""
    made = now_made(house)
    client, clean = chosen_clean(house)
    assert clean.skid == house.skid
    here = step_url(clean)
    shown = client.get(here)
    assert "Caustic tank 1: 2 % w/w, made up 2 days ago, 0 uses" in text_of(shown)
    assert "On Skid 1" in text_of(shown)
    answer = client.post(f"{here}safety/", ticked(client, clean))
    assert answer.status_code == 302
    record = StepRecord.objects.get(clean=clean)
    assert record.solution == made
    page = client.get(here)
    assert "On Skid 1, from Caustic tank 1: 2 % w/w, made up 2 days ago, 0 uses" in text_of(page)
    form = client.get(f"{here}end/").context["form"]
    assert form["outflow"].value() == "returned"


def test_past_its_rule_the_refusal_stands_beside_the_solution(house: SkidCellar) -> None:
    made = now_made(house)
    house.ruled(most_days=1)
    client, clean = chosen_clean(house)
    here = step_url(clean)
    shown = client.get(here)
    assert "Caustic tank 1 is past its dump rule: made up 2 days ago" in text_of(shown)
    assert "solution_reason" not in shown.context["key_form"].fields
    answer = client.post(f"{here}safety/", ticked(client, clean))
    assert answer.status_code == 422
    assert list(errors(answer, "key_form")) == ["solution"]
    house.ruled(most_days=1, may_explain=True)
    form = client.get(here).context["key_form"]
    answer = client.post(f"{here}start/", as_shown(form))
    assert list(errors(answer, "key_form")) == ["solution_reason"]
    # What came back is sent again with what was missing.
    form = answer.context["key_form"]
    answer = client.post(f"{here}start/", as_shown(form, solution_reason="Titrated at noon"))
    assert answer.status_code == 302
    assert StepRecord.objects.get(solution=made).solution_reason == "Titrated at noon"
    assert "past its dump rule: Titrated at noon" in text_of(client.get(tank_url(house.tank)))


def test_the_form_that_comes_back_after_the_checks_starts_the_step(house: SkidCellar) -> None:
    now_made(house)
    house.ruled(most_days=1)
    client, clean = chosen_clean(house)
    here = step_url(clean)
    form = client.post(f"{here}safety/", ticked(client, clean)).context["key_form"]
    assert form["key"].value() != "k"
    answer = client.post(f"{here}start/", as_shown(form, solution="fresh"))
    assert answer.status_code == 302
    assert StepRecord.objects.get(clean=clean).made_fresh


def test_a_solution_that_is_not_offered_is_refused(house: SkidCellar) -> None:
    now_made(house)
    client, clean = chosen_clean(house)
    sent = ticked(client, clean, solution="999")
    for what in ("safety", "start"):
        answer = client.post(f"{step_url(clean)}{what}/", sent)
        assert errors(answer, "key_form") == {
            "solution": ["Choose a solution that is in its tank now."]
        }
    assert not StepRecord.objects.filter(clean=clean).exists()


def test_the_step_that_spoilt_a_solution_is_linked_from_it(house: SkidCellar) -> None:
    made = now_made(house)
    stout = make_beer(name="Brindle Stout (invented)", allergens=["milk"])
    now = clock.now() - timedelta(hours=2)
    turnaround = house.emptied(now=now, beer=stout)
    clean = house.began(
        house.regime(("caustic", house.caustic, "")), turnaround=turnaround, now=now
    )
    record = house.step_done(clean, 1, Draws(solution=made), now=now)
    page = signed_in(house.hand).get(tank_url(house.tank))
    assert "Dump before its next use" in text_of(page)
    link = reverse("turnarounds:step", args=[clean.pk, record.step_id])
    assert f'href="{link}"' in page.content.decode()


def test_a_running_clean_changes_its_skid_by_the_page(house: SkidCellar) -> None:
    other = house.made_skid("Portable 1", "portable")
    now_made(house)
    client, clean = chosen_clean_on(house, house.skid)
    here = reverse("turnarounds:change_gear", args=[clean.pk])
    form = client.get(here).context["form"]
    assert form["skid"].value() == house.skid.pk
    client.post(here, as_shown(form, skid=other.pk))
    clean.refresh_from_db()
    assert clean.skid == other
    answer = client.post(here, as_shown(form, skid="999"))
    assert errors(answer) == {"skid": ["Choose a skid that is in use."]}


def chosen_clean_on(house: SkidCellar, skid: Skid) -> tuple[Any, Clean]:
    clean = house.began(house.regime(("caustic", house.caustic, "")), now=clock.now(), skid=skid)
    return signed_in(house.hand), clean


def test_a_step_on_a_skid_costs_a_constant_more(
    house: SkidCellar, django_assert_num_queries: Any
) -> None:
    """Of those, 2 are for what the skid carries and 6 for the solutions that it may draw."""
    made = now_made(house)
    house.used(made, now=clock.now() - timedelta(hours=6))
    client, clean = chosen_clean(house)
    here = step_url(clean)
    client.get(here)
    with django_assert_num_queries(STEP_QUERIES):
        client.get(here)
    for _ in range(2):
        house.used(made, now=clock.now() - timedelta(hours=5))
    with django_assert_num_queries(STEP_QUERIES):
        client.get(here)


STEP_QUERIES = 18
