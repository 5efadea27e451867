"""The numbers beside the places, and the page of the vessels to sample."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.atp.models.meters import Meter
from brewhygiene.people.models import User
from brewhygiene.plates.closing.actions import resolve_plate
from tests.board.scenes import HOUR, Now
from tests.factories import PASSWORD, acting, made_good, make_meter, make_user, make_vessel
from tests.turnarounds.floor import signed_in

DAY = timedelta(days=1)
pytestmark = pytest.mark.django_db

# Session, person, permissions and brewery, then seven for the vessels on their way, two for the
# meters and one for the plates.
QUERIES = 15
QUERIES_OF_THE_PAGE = 11


@pytest.fixture
def cellar() -> Now:
    return Now()


def waits(user: User) -> dict[str, str]:
    """What the fragment says waits at each place."""
    html = signed_in(user).get(reverse("board:waiting")).content.decode()
    spans = re.findall(r'id="waits-(\w+)" data-hx-swap-oob="true">(\d*)', html)
    assert html.count('<span class="waits"') == len(spans)
    return dict(spans)


def everything_waits(cellar: Now) -> None:
    """One vessel to sample, two to decide, one meter of two unchecked."""
    cellar.cleaned_ago(HOUR)
    for _ in range(2):
        cellar.to_decide(vessel=make_vessel())
    cellar.checked(now=cellar.now)
    make_meter()


def emptied_after_a_fill(cellar: Now) -> None:
    """A vessel to sample that had been filled before, so that its fill is looked up."""
    cellar.filled_without_release(cellar.cleaned_ago(5 * HOUR), ago=4 * HOUR)
    cellar.cleaned_ago(2 * HOUR)


def test_head_brewer_sees_what_waits_everywhere(cellar: Now) -> None:
    everything_waits(cellar)
    assert waits(cellar.brewer) == {"sample": "1", "release": "2", "atp": "1", "plates": ""}


def test_hand_sees_what_waits_for_a_hand(cellar: Now) -> None:
    everything_waits(cellar)
    assert waits(cellar.hand) == {"sample": "1", "atp": "1"}


def test_who_may_do_nothing_is_shown_no_number(cellar: Now) -> None:
    everything_waits(cellar)
    assert waits(cellar.owner) == {}
    assert waits(make_user()) == {}


@pytest.mark.parametrize(("sent_ago", "number"), [(7 * DAY, "1"), (6 * DAY - HOUR, "")])
def test_plate_waits_from_its_due_day(cellar: Now, sent_ago: timedelta, number: str) -> None:
    turnaround = cellar.released_ago(sent_ago + HOUR)
    cellar.filled(turnaround, now=cellar.at(sent_ago))
    cellar.plate_sent(turnaround, ago=sent_ago)
    assert waits(cellar.brewer)["plates"] == number


def test_positive_plate_waits_until_it_is_closed(cellar: Now) -> None:
    plate = cellar.positive_plate()
    assert waits(cellar.brewer)["plates"] == "1"
    resolve_plate(
        by=acting(cellar.brewer, now=cellar.now),
        plate=plate,
        resolution="Gasket replaced",
        password=PASSWORD,
        **made_good(plate, now=cellar.now),
    )
    assert waits(cellar.brewer)["plates"] == ""


def test_stranger_is_led_to_sign_in() -> None:
    assert Client().get(reverse("board:waiting")).status_code == 302


def test_retired_meter_waits_for_no_check(cellar: Now) -> None:
    before = waits(cellar.hand)["atp"]
    assert before == str(Meter.objects.filter(active=True).count())
    make_meter(active=False)
    assert waits(cellar.hand)["atp"] == before


@pytest.mark.parametrize("number", [1, 3])
def test_numbers_take_the_same_queries_for_few_and_many(
    cellar: Now, number: int, django_assert_num_queries: Any
) -> None:
    emptied_after_a_fill(cellar)
    for _ in range(number):
        cellar.cleaned_ago(HOUR, vessel=make_vessel())
        cellar.to_decide(vessel=make_vessel())
    client = signed_in(cellar.brewer)
    with django_assert_num_queries(QUERIES):
        client.get(reverse("board:waiting"))


# --- The page of the vessels to sample ---


def page(user: User) -> str:
    return signed_in(user).get(reverse("board:to_sample")).content.decode()


def test_vessel_with_points_to_sample_leads_to_the_first(cellar: Now) -> None:
    turnaround = cellar.cleaned_ago(HOUR)
    point = cellar.point
    html = page(cellar.hand)
    assert html.count('<li class="list-row">') == 1
    assert reverse("atp:sample", args=[turnaround.pk, point.pk]) in html
    assert f"<span>{point.name}</span>" in html


def test_who_may_not_sample_is_led_to_look(cellar: Now) -> None:
    turnaround = cellar.cleaned_ago(HOUR)
    html = page(cellar.owner)
    assert reverse("atp:samples", args=[turnaround.pk]) in html
    assert reverse("atp:sample", args=[turnaround.pk, cellar.point.pk]) not in html


def test_what_is_due_soonest_comes_first(cellar: Now) -> None:
    later = make_vessel(name="FV 1")
    sooner = make_vessel(name="FV 2")
    cellar.cleaned_ago(HOUR, vessel=later)
    cellar.cleaned_ago(3 * HOUR, vessel=sooner)
    html = page(cellar.hand)
    assert html.index(sooner.name) < html.index(later.name)


@pytest.mark.parametrize("step", ["emptied", "sampled"])
def test_vessel_before_its_clean_or_after_its_samples_is_not_listed(cellar: Now, step: str) -> None:
    if step == "emptied":
        cellar.emptied(now=cellar.at(HOUR))
    else:
        cellar.to_decide()
    assert "Nothing to sample" in page(cellar.hand)


def test_number_beside_sample_is_that_of_the_list(cellar: Now) -> None:
    for _ in range(3):
        cellar.cleaned_ago(HOUR, vessel=make_vessel())
    assert (
        waits(cellar.hand)["sample"] == str(page(cellar.hand).count('<li class="list-row">')) == "3"
    )


@pytest.mark.parametrize("number", [1, 3])
def test_page_takes_the_same_queries_for_few_and_many(
    cellar: Now, number: int, django_assert_num_queries: Any
) -> None:
    emptied_after_a_fill(cellar)
    for _ in range(number):
        cellar.cleaned_ago(HOUR, vessel=make_vessel())
    client = signed_in(cellar.hand)
    with django_assert_num_queries(QUERIES_OF_THE_PAGE):
        client.get(reverse("board:to_sample"))
