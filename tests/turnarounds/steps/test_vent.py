"""A vent step is judged by its air or by the CO2 at the outlet, not by minutes alone."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.deviations.actions import dispose_deviation
from brewhygiene.turnarounds.models import StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.steps import actions
from tests import clock
from tests.factories import acting, add_step, make_version, seen_well
from tests.turnarounds.floor import Floor
from tests.turnarounds.steps.sending import url, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def venting(floor: Floor) -> StepRecord:
    """A fermenter of 30 hL, vented for 20 minutes."""
    floor.version = make_version(steps=False)
    add_step(floor.version, StepKind.VENT, end_criterion="vented")
    add_step(floor.version, StepKind.DRAIN, end_criterion="drained")
    floor.vessel.volume_hl = 30
    floor.vessel.save()
    then = clock.now() - timedelta(minutes=20)
    clean = floor.started(floor.emptied(now=then), now=then)
    return floor.running_step(clean, 1, now=then)


def end(floor: Floor, record: StepRecord, **values: Any) -> None:
    by = acting(floor.hand, now=clock.now())
    seen = seen_well(record.clean, record.step)
    given = {"end_criterion_met": True, "observations": seen, **values}
    actions.end_step(by=by, record=record, **given)


def read(floor: Floor, record: StepRecord, quantity: str, value: float, *, ago: float) -> None:
    floor.read(record, quantity, value, now=clock.now() - timedelta(minutes=ago))


def refusal(floor: Floor, record: StepRecord) -> Refusal:
    with pytest.raises(Refusal) as refused:
        end(floor, record)
    assert refused.value.field == "end_criterion_met"
    return refused.value


def test_minutes_alone_do_not_vent_a_tank(floor: Floor, venting: StepRecord) -> None:
    refused = refusal(floor, venting)
    assert refused.code == "end_not_read"
    assert refused.message == (
        "Read the CO2 at the bottom outlet or the air flow first. If neither can be read, "
        "choose No."
    )


@pytest.mark.parametrize(("co2_pct", "purged"), [(1, True), (1.1, False)])
def test_co2_at_the_outlet_shows_the_end(
    floor: Floor, venting: StepRecord, co2_pct: float, purged: bool
) -> None:
    read(floor, venting, "co2_pct", co2_pct, ago=0)
    if purged:
        end(floor, venting)
        assert Deviation.objects.count() == 0
    else:
        assert refusal(floor, venting).code == "end_contradicted"


@pytest.mark.parametrize(("ago", "purged"), [(15, True), (14.9, False)])
def test_five_volumes_of_air_show_the_end(
    floor: Floor, venting: StepRecord, ago: float, purged: bool
) -> None:
    """15 m³ at 60 m³/h: 15 minutes from when the flow was read."""
    read(floor, venting, "air_m3_h", 60, ago=ago)
    if purged:
        end(floor, venting)
        assert Deviation.objects.count() == 0
    else:
        assert "4.9 of 5 tank volumes of air so far" in refusal(floor, venting).message


def test_that_it_is_not_reached_is_one_deviation(floor: Floor, venting: StepRecord) -> None:
    end(floor, venting, end_criterion_met=False)
    assert [deviation.kind for deviation in Deviation.objects.all()] == ["end_not_met"]


def test_air_of_an_attempt_that_is_extended_counts(floor: Floor, venting: StepRecord) -> None:
    read(floor, venting, "air_m3_h", 60, ago=20)
    by = acting(floor.hand, now=clock.now() - timedelta(minutes=10))
    actions.end_step(by=by, record=venting, end_criterion_met=False)
    dispose_deviation(by=by, deviation=Deviation.objects.get(), disposition="extend")
    more = floor.running_step(venting.clean, 1, now=clock.now() - timedelta(minutes=9))
    read(floor, more, "air_m3_h", 60, ago=5)
    end(floor, more)
    assert more.clean.step_records.filter(end_criterion_met=True).count() == 1


def test_the_step_says_how_much_air_is_asked_for(floor: Floor, venting: StepRecord) -> None:
    page = words(floor.client.get(url("step", venting)))
    assert "To read: CO2 at the bottom outlet or air flow" in page
    assert "5 tank volumes are 15 m³ of air" in page
    read(floor, venting, "air_m3_h", 60, ago=6)
    page = words(floor.client.get(url("step", venting)))
    assert "15 m³ of air: 15 min at 60 m³/h. 6.0 m³ so far" in page
    read(floor, venting, "co2_pct", 0.8, ago=0)
    assert "Purged as far as read" in words(floor.client.get(url("step", venting)))


def test_no_other_step_offers_them(floor: Floor) -> None:
    running = floor.running_caustic()
    screen = floor.client.get(url("step", running)).context["screen"]
    assert not {"co2_pct", "air_m3_h"} & {code for code, _ in screen.other_quantities}
    assert not {"co2_pct", "air_m3_h"} & {code for code, *_ in screen.quantities}
