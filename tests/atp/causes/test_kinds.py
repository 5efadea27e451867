"""A cause is offered for the kinds of sample that can show it."""

from datetime import timedelta

import pytest
from django.test import Client

from brewhygiene.atp.causes.actions import record_found_cause
from brewhygiene.atp.models.causes import Cause, FoundCause, fits
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import SampleKind, SamplingPoint
from brewhygiene.refusals import Refusal
from tests import clock
from tests.factories import Cellar, acting

RINSE_ONLY, SURFACE_ONLY = {Cause.WATER}, {Cause.SHADOW}


@pytest.mark.parametrize("cause", Cause)
def test_shipped_causes_are_for_every_kind_but_two(cause: Cause) -> None:
    assert fits(cause, SampleKind.RINSE) is (cause not in SURFACE_ONLY)
    assert fits(cause, SampleKind.SURFACE) is (cause not in RINSE_ONLY)


@pytest.fixture
def over(db: None) -> Result:
    cellar = Cellar()
    turnaround = cellar.cleaned(now=clock.now() - timedelta(minutes=40))
    cellar.checked(now=clock.now())
    return cellar.sampled(turnaround, rlu=90, now=clock.now())


def record(over: Result, cause: Cause, result: Result | None) -> FoundCause:
    return record_found_cause(
        by=acting(over.recorded_by, now=clock.now()),
        turnaround=over.turnaround,
        cause=cause,
        result=result,
    )


def test_cause_that_a_rinse_cannot_show_is_refused_beside_the_cause(over: Result) -> None:
    with pytest.raises(Refusal) as refused:
        record(over, Cause.SHADOW, over)
    assert (refused.value.field, refused.value.code) == ("cause", "other_kind")
    assert not FoundCause.objects.exists()
    record(over, Cause.WATER, over)
    record(over, Cause.SHADOW, None)
    assert FoundCause.objects.count() == 2


def test_cause_that_a_swab_cannot_show_is_refused(over: Result) -> None:
    SamplingPoint.objects.update(sample_kind="surface", area_cm2=100)
    over.refresh_from_db()
    with pytest.raises(Refusal) as refused:
        record(over, Cause.WATER, Result.objects.get())
    assert refused.value.code == "other_kind"
    record(over, Cause.SHADOW, Result.objects.get())


def test_page_says_of_each_reading_its_kind_and_of_each_cause_what_it_is_not_for(
    client: Client, over: Result
) -> None:
    client.force_login(over.recorded_by)
    page = client.get(f"/turnarounds/{over.turnaround_id}/cause/")
    form = page.context["form"]
    assert {str(o.data["value"]): o.data["attrs"].get("data-not-for") for o in form["cause"]} == {
        **{cause.value: None for cause in Cause},
        "shadow": "rinse",
        "water": "surface",
    }
    assert [o.data["attrs"].get("data-sample") for o in form["result"]] == [None, "rinse"]
