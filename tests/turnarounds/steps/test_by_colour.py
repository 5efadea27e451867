"""The end of a rinse by an indicator's colour: a range of pH, which a yes may not contradict."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.models import StepReading, StepRecord
from brewhygiene.turnarounds.quantities import Colour
from tests import clock
from tests.factories import add_step, make_version
from tests.turnarounds.floor import Floor, errors
from tests.turnarounds.steps.sending import end, url, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def rinsing(floor: Floor) -> StepRecord:
    """The rinse after the hot caustic, to pH 6 to 8."""
    then = clock.now() - timedelta(minutes=60)
    clean = floor.at_step(3, minutes_ago=60)
    return floor.running_step(clean, 3, now=then + timedelta(minutes=50))


def read(floor: Floor, record: StepRecord, indicator: str, colour: str, **values: Any) -> Any:
    return floor.read(record, "ph", None, colour=Colour(indicator, colour), **values)


@pytest.mark.parametrize(
    ("indicator", "colour", "reached", "typed", "value"),
    [
        ("phenolphthalein", "colourless", True, "pH below 8.2 (phenolphthalein, colourless)", 8.2),
        ("phenolphthalein", "pale pink", False, "pH 8.2 to 10 (phenolphthalein, pale pink)", 9.1),
        ("phenolphthalein", "pink", False, "pH above 10 (phenolphthalein, pink)", 10),
        ("bromothymol_blue", "green", True, "pH 6 to 7.6 (bromothymol blue, green)", 6.8),
        ("phenol_red", "red", False, "pH above 8.4 (phenol red, red)", 8.4),
    ],
)
def test_a_yes_that_a_colour_contradicts_is_refused(
    floor: Floor,
    rinsing: StepRecord,
    indicator: str,
    colour: str,
    reached: bool,
    typed: str,
    value: float,
) -> None:
    kept = read(floor, rinsing, indicator, colour)
    assert (kept.typed, kept.value, kept.source) == (typed, value, "read")
    answer = end(floor, rinsing, end_criterion_met="yes")
    assert answer.status_code == (302 if reached else 422)
    if not reached:
        (message,) = errors(answer)["end_criterion_met"]
        assert message.startswith(f"The last reading was {typed}, above 8: caustic is left")


def test_beside_the_supply_a_colour_counts_as_the_nearest_of_its_range(floor: Floor) -> None:
    floor.version = make_version(steps=False)
    add_step(floor.version, StepKind.RINSE, end_criterion="tap_ph")
    then = clock.now() - timedelta(minutes=5)
    record = floor.running_step(floor.started(floor.emptied(now=then), now=then), 1, now=then)
    floor.read(record, "ph", 7.9, stage="supply")
    read(floor, record, "phenol_red", "yellow")
    assert end(floor, record, end_criterion_met="yes").status_code == 422
    read(floor, record, "phenol_red", "orange")
    assert end(floor, record, end_criterion_met="yes").status_code == 302


@pytest.mark.parametrize(
    ("indicator", "colour", "code"),
    [
        # It changes below 6.2: it shows no caustic.
        ("methyl_red", "yellow", "shows_nothing"),
        ("phenolphthalein", "blue", "no_colour"),
        ("litmus", "red", "no_colour"),
    ],
)
def test_what_shows_nothing_is_refused(
    floor: Floor, rinsing: StepRecord, indicator: str, colour: str, code: str
) -> None:
    with pytest.raises(Refusal) as refused:
        read(floor, rinsing, indicator, colour)
    assert (refused.value.field, refused.value.code) == ("colour", code)


def test_the_supply_is_not_read_by_a_colour(floor: Floor, rinsing: StepRecord) -> None:
    with pytest.raises(Refusal) as refused:
        read(floor, rinsing, "phenol_red", "orange", stage="supply")
    assert refused.value.code == "coarse"


def test_the_step_offers_a_number_first_and_the_indicators_that_suit(
    floor: Floor, rinsing: StepRecord
) -> None:
    form = floor.client.get(url("step", rinsing)).context["reading_form"]
    assert (form.direct, "value" in form.fields, "colour" in form.fields) == (True, True, False)
    page = floor.client.get(url("step", rinsing) + "?read=ph&by=indicator")
    offered = [value for value, _ in page.context["reading_form"].fields["colour"].choices]
    assert "phenolphthalein:colourless" in offered
    assert not any(value.startswith("methyl_red") for value in offered)
    data = {"record": rinsing.pk, "quantity": "ph", "by": "indicator", "stage": "end"}
    answer = floor.client.post(url("read", rinsing), data)
    assert answer.status_code == 422
    assert errors(answer, "reading_form") == {"colour": ["Choose a colour."]}
    floor.client.post(url("read", rinsing), data | {"colour": "phenolphthalein:colourless"})
    assert StepReading.objects.latest("pk").titration == {
        "method": "indicator",
        "indicator": "phenolphthalein",
        "colour": "colourless",
        "low": 0,
        "high": 8.2,
    }
    page = words(floor.client.get(url("step", rinsing)))
    assert "pH below 8.2 (phenolphthalein, colourless)" in page
    assert "By the colour of an indicator." in page
