"""The label at the tank leads to the sample that is due, or says why there is none."""

from datetime import timedelta

import pytest
from django.urls import reverse

from brewhygiene.turnarounds.models import Turnaround
from tests import clock
from tests.atp.readings.scenes import page_of, url, words
from tests.factories import (
    make_point,
)
from tests.turnarounds.floor import Floor, signed_in

pytestmark = pytest.mark.django_db


# The label at the tank


def test_a_label_leads_to_the_sample_that_is_due(floor: Floor, turnaround: Turnaround) -> None:
    for code in (floor.point.code, floor.point.code.lower()):
        answer = floor.client.get(url("point", code))
        assert answer.headers["Location"] == page_of(turnaround)
    owners = signed_in(floor.owner).get(url("point", floor.point.code))
    assert owners.headers["Location"] == url("samples", turnaround.pk)


def test_a_label_of_a_vessel_in_use_says_so(floor: Floor) -> None:
    then = clock.now() - timedelta(days=2)
    fill = floor.filled(floor.released(now=then), now=then + timedelta(minutes=50))
    page = words(floor.client.get(url("point", floor.point.code)))
    assert f"contains {floor.pale.name}, batch {fill.batch}." in page
    assert f'href="{reverse("turnarounds:empty", args=[floor.vessel.pk])}"' in page


def test_a_label_of_a_vessel_not_cleaned_leads_to_its_regime(floor: Floor) -> None:
    turnaround = floor.emptied(now=clock.now())
    page = words(floor.client.get(url("point", floor.point.code)))
    assert "has not been cleaned since it was emptied. Clean it first." in page
    assert f'href="{reverse("turnarounds:regime", args=[turnaround.pk])}"' in page


def test_a_label_during_a_clean_leads_to_it(floor: Floor) -> None:
    clean = floor.at_step(1)
    page = words(floor.client.get(url("point", floor.point.code)))
    assert "The clean is still running." in page
    assert f'href="{reverse("turnarounds:clean", args=[clean.pk])}"' in page


def test_a_label_that_belongs_to_nothing_is_not_found(floor: Floor) -> None:
    answer = floor.client.get(url("point", "NOSUCH"))
    assert answer.status_code == 404
    assert "No sampling point has this label." in words(answer)


def test_a_label_of_a_retired_point_says_so(floor: Floor, turnaround: Turnaround) -> None:
    gone = make_point(turnaround.vessel, name="Old arm", active=False)
    assert "Old arm is retired." in words(floor.client.get(url("point", gone.code)))
