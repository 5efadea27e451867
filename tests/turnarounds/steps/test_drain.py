"""After a mixed culture or an allergen, water and solution go to the drain."""

from typing import Any

import pytest

from brewhygiene.cellar.models import Beer, Emptying
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Step, StepKind
from brewhygiene.turnarounds.models import Clean, StepRecord, Turnaround
from brewhygiene.turnarounds.models.deviations import DeviationKind
from brewhygiene.turnarounds.steps import actions
from brewhygiene.turnarounds.steps.drain import drain_words
from tests import clock
from tests.factories import acting
from tests.turnarounds.floor import Floor, errors
from tests.turnarounds.steps.sending import at, end, read_all, url, words

TO_DRAIN = "To the drain, not back to the tank: "


def clean_after(beer: Beer | None, *, carried: dict[str, str] | None = None) -> Clean:
    """A clean of a vessel that contained that beer last, made in memory."""
    turnaround = Turnaround(emptying=Emptying(beer=beer))
    return Clean(turnaround=turnaround, carried=carried or {})


@pytest.mark.parametrize(
    "beer, why",
    [
        ({}, ""),
        ({"diastatic": True, "fruit_or_heavy_hops": True, "allergen": "coriander"}, ""),
        ({"allergens": ["nuts", "milk"]}, "milk and nuts."),
        ({"sour_or_mixed": True}, "a mixed culture."),
        ({"allergens": ["milk"], "sour_or_mixed": True}, "milk and a mixed culture."),
    ],
)
def test_last_beer_decides(beer: dict[str, Any], why: str) -> None:
    said = drain_words(Step(kind=StepKind.CAUSTIC), clean_after(Beer(name="Osk", **beer)))
    assert said == (f"{TO_DRAIN}Osk has {why}" if why else "")


@pytest.mark.parametrize(
    "carried, beer, why",
    [
        ({"milk": "Brin"}, {}, "Brin has milk."),
        ({"milk": "Brin", "nuts": "Brin"}, {}, "Brin has milk and nuts."),
        ({"milk": "Brin"}, {"allergens": ["milk"]}, "Osk has milk."),
        ({"nuts": "Brin"}, {"allergens": ["milk"]}, "Osk has milk; Brin has nuts."),
        ({"milk": "Brin"}, {"sour_or_mixed": True}, "Brin has milk; Osk has a mixed culture."),
    ],
)
def test_what_an_earlier_beer_left_goes_to_the_drain_too(
    carried: dict[str, str], beer: dict[str, Any], why: str
) -> None:
    clean = clean_after(Beer(name="Osk", **beer), carried=carried)
    assert drain_words(Step(kind=StepKind.RINSE), clean) == f"{TO_DRAIN}{why}"


def test_what_is_carried_counts_where_the_last_beer_is_not_on_record() -> None:
    clean = clean_after(None, carried={"milk": "Brin"})
    assert drain_words(Step(kind=StepKind.RINSE), clean) == f"{TO_DRAIN}Brin has milk."


def test_every_kind_of_step_whose_water_or_solution_may_be_recovered() -> None:
    clean = clean_after(Beer(name="Osk", sour_or_mixed=True))
    assert {kind for kind in StepKind if drain_words(Step(kind=kind), clean)} == {
        StepKind.PRE_RINSE,
        StepKind.CAUSTIC,
        StepKind.ACID,
        StepKind.RINSE,
        StepKind.SANITISER,
        StepKind.HOT_WATER,
    }


def test_beer_that_is_not_on_record_says_nothing() -> None:
    assert drain_words(Step(kind=StepKind.CAUSTIC), clean_after(None)) == ""


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["step", "end_step"])
def test_step_and_its_end_say_it(floor: Floor, running: StepRecord, name: str) -> None:
    assert TO_DRAIN not in words(floor.client.get(url(name, running)))
    Beer.objects.filter(name=floor.pale.name).update(allergens=["milk"])
    assert f"{TO_DRAIN}{floor.pale.name} has milk." in words(floor.client.get(url(name, running)))


def ended(floor: Floor, record: StepRecord, **values: Any) -> StepRecord:
    return actions.end_step(
        by=acting(floor.hand, now=clock.now()), record=record, agent_lot="C-77", **values
    )


@pytest.fixture
def after_milk(floor: Floor, running: StepRecord) -> StepRecord:
    Beer.objects.filter(name=floor.pale.name).update(allergens=["milk"])
    read_all(floor, running)
    return running


@pytest.mark.django_db
@pytest.mark.parametrize("outflow", ["", "elsewhere"])
def test_end_asks_where_it_went(floor: Floor, after_milk: StepRecord, outflow: str) -> None:
    with pytest.raises(Refusal) as refused:
        ended(floor, after_milk, outflow=outflow)
    assert (refused.value.field, refused.value.code) == ("outflow", "no_outflow")
    after_milk.refresh_from_db()
    assert after_milk.ended_at is None


@pytest.mark.django_db
@pytest.mark.parametrize(
    "outflow, deviations",
    [
        ("dumped", []),
        (
            "returned",
            [f"Went back to the tank. {TO_DRAIN}Harrow Pale (invented) has milk."],
        ),
    ],
)
def test_what_went_back_to_the_tank_is_a_deviation(
    floor: Floor, after_milk: StepRecord, outflow: str, deviations: list[str]
) -> None:
    record = ended(floor, after_milk, outflow=outflow)
    assert StepRecord.objects.get(pk=record.pk).outflow == outflow
    found = record.deviations.filter(kind=DeviationKind.RETURNED)
    assert [one.description for one in found] == deviations
    assert Entry.objects.latest("number").values["outflow"] == outflow


@pytest.mark.django_db
def test_it_is_neither_asked_nor_kept_after_any_other_beer(
    floor: Floor, running: StepRecord
) -> None:
    record = ended(floor, running, outflow="returned")
    assert record.outflow == ""
    assert not record.deviations.filter(kind=DeviationKind.RETURNED).exists()
    assert "outflow" not in Entry.objects.latest("number").values


@pytest.mark.django_db
def test_page_asks_beside_its_field_and_shows_the_answer(
    floor: Floor, after_milk: StepRecord
) -> None:
    answer = end(floor, after_milk, note="Kept")
    assert answer.status_code == 422
    assert errors(answer) == {"outflow": ["Choose where water and solution of this step went."]}
    assert answer.context["form"]["note"].value() == "Kept"
    assert end(floor, after_milk, outflow="dumped").status_code == 302
    after_milk.refresh_from_db()
    assert after_milk.outflow == "dumped"


@pytest.mark.django_db
def test_stated_step_asks_too(floor: Floor) -> None:
    Beer.objects.filter(name=floor.pale.name).update(allergens=["milk"])
    clean = floor.at_step(1)
    page = floor.client.get(url("state_step", None, *at(clean, 1)))
    assert "outflow" in page.context["form"].fields
    assert TO_DRAIN in words(page)
