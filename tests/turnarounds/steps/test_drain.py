"""After a mixed culture or an allergen, water and solution go to the drain."""

from typing import Any

import pytest

from brewhygiene.cellar.models import Beer
from brewhygiene.regimes.models import Step, StepKind
from brewhygiene.turnarounds.models import StepRecord
from brewhygiene.turnarounds.steps.drain import drain_words
from tests.turnarounds.floor import Floor
from tests.turnarounds.steps.sending import url, words

TO_DRAIN = "To the drain, not back to the tank: "


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
    said = drain_words(Step(kind=StepKind.CAUSTIC), Beer(name="Osk", **beer))
    assert said == (f"{TO_DRAIN}Osk has {why}" if why else "")


def test_every_kind_of_step_whose_water_or_solution_may_be_recovered() -> None:
    beer = Beer(name="Osk", sour_or_mixed=True)
    assert {kind for kind in StepKind if drain_words(Step(kind=kind), beer)} == {
        StepKind.PRE_RINSE,
        StepKind.CAUSTIC,
        StepKind.ACID,
        StepKind.RINSE,
        StepKind.SANITISER,
        StepKind.HOT_WATER,
    }


def test_beer_that_is_not_on_record_says_nothing() -> None:
    assert drain_words(Step(kind=StepKind.CAUSTIC), None) == ""


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["step", "end_step"])
def test_step_and_its_end_say_it(floor: Floor, running: StepRecord, name: str) -> None:
    assert TO_DRAIN not in words(floor.client.get(url(name, running)))
    Beer.objects.filter(name=floor.pale.name).update(allergens=["milk"])
    assert f"{TO_DRAIN}{floor.pale.name} has milk." in words(floor.client.get(url(name, running)))
