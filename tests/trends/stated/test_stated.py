"""The share of stated times, by person and by kind of step."""

from datetime import timedelta

import pytest
from django.urls import reverse

from brewhygiene.trends.stated.shares import Share, shares_of, shares_since
from brewhygiene.turnarounds.models import StepRecord
from tests import clock
from tests.factories import Cellar
from tests.turnarounds.floor import signed_in
from tests.turnarounds.steps.sending import words


@pytest.mark.parametrize(
    ("stated", "ended", "says"),
    [(0, 10, "0 %"), (2, 10, "20 %"), (9, 9, "too few steps"), (1, 8, "too few steps")],
)
def test_a_share_of_too_few_steps_is_none(stated: int, ended: int, says: str) -> None:
    assert Share("Jonas Feld", stated, ended).words == says


def test_shares_add_up_by_person_and_by_step_most_stated_first() -> None:
    found = shares_of([("Ada", "caustic", 1, 4), ("Ben", "caustic", 3, 5), ("Ada", "rinse", 0, 7)])
    assert found.people == (Share("Ben", 3, 5), Share("Ada", 1, 11))
    assert found.steps == (Share("caustic", 4, 9), Share("rinse", 0, 7))
    assert found.total == Share("all", 4, 16)
    assert found.about == "4 of 16 steps"


@pytest.mark.django_db
def test_steps_that_ended_are_counted_and_those_left_out_are_not() -> None:
    cellar = Cellar()
    then = clock.now() - timedelta(hours=2)
    cellar.run(cellar.started(cellar.emptied(now=then), now=then), now=then)
    records = StepRecord.objects.all()
    assert shares_since(then).total == Share("all", 0, records.count())
    assert shares_since(then + timedelta(minutes=1)).total.ended == records.count() - 1
    assert [share.name for share in shares_since(then).people] == [str(cellar.hand)]


@pytest.mark.django_db
def test_the_page_costs_the_same_whatever_was_stated(django_assert_num_queries) -> None:
    cellar = Cellar()
    client = signed_in(cellar.brewer)
    address = reverse("trends:stated")
    assert "No step has ended in the last 90 days." in words(client.get(address))
    then = clock.now() - timedelta(hours=2)
    cellar.run(cellar.started(cellar.emptied(now=then), now=then), now=then)
    with django_assert_num_queries(2):
        shares_since(then)
    page = words(client.get(address))
    assert "0 of 2 steps of the last 90 days have stated times." in page
    assert "too few steps" in page
