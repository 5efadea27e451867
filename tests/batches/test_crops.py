"""Yeast crops: their source, generation and vessel, and what is refused beside its field."""

import pytest

from brewhygiene.batches.crops import actions
from brewhygiene.batches.models.batches import YeastCrop
from brewhygiene.cellar.models import Fill
from brewhygiene.refusals import Refusal
from brewhygiene.release.queries import state_of
from tests.batches.scenes import Brewhouse
from tests.batches.test_batches import way
from tests.factories import acting


def refused_with(call: object, **values: object) -> tuple[str | None, str]:
    before = YeastCrop.objects.count(), Fill.objects.count()
    with pytest.raises(Refusal) as refused:
        call(**values)
    assert (YeastCrop.objects.count(), Fill.objects.count()) == before
    return refused.value.field, refused.value.code


def test_crop_fills_the_yeast_vessel_and_keeps_its_way(house: Brewhouse) -> None:
    batch = house.brewed("B1", 1)
    house.pitched(house.bought(generation=3), 2)
    crop = house.cropped("Y-1", 60, vessel=house.yv, through=(house.hose,), viability_pct=93)
    assert (crop.cropped_from, crop.generation, crop.viability_pct) == (batch, 4, 93)
    assert (crop.fill.vessel, crop.fill.batch, crop.fill.volume_hl) == (house.yv, "B1", 0.5)
    assert state_of(house.yv, now=house.at(61)).status.code == "in_use"
    source = Fill.objects.get(vessel=house.fv)
    assert way(crop.origins.get()) == [
        str(source), house.fv.name, "Hose one", "YV one", str(crop.fill), "Y-1",
    ]  # fmt: skip


def test_bought_yeast_is_generation_0_unless_said(house: Brewhouse) -> None:
    crop = house.bought()
    assert (crop.generation, crop.source, crop.cropped_from) == (0, "bought", None)
    assert way(crop.origins.get()) == ["Y-0"]
    assert house.bought("Y-9", generation=2).generation == 2


@pytest.mark.parametrize(
    "values, field",
    [
        ({"number": " "}, "number"),
        ({"number": "y-0"}, "number"),
        ({"supplier": ""}, "supplier"),
        ({"volume_hl": 0}, "volume_hl"),
        ({"viability_pct": 101}, "viability_pct"),
        ({"viability_pct": -1}, "viability_pct"),
    ],
)
def test_bought_yeast_that_cannot_be_is_refused(
    house: Brewhouse, values: dict[str, object], field: str
) -> None:
    house.bought("Y-0")
    assert refused_with(house.bought, **{"number": "Y-1", **values})[0] == field


def test_yeast_vessel_that_is_not_released_takes_no_crop(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    values = {
        "by": acting(house.hand, now=house.at(60)),
        "from_vessel": house.fv,
        "number": "Y-1",
        "cropped_at": house.at(60),
        "volume_hl": 0.5,
        "generation": 1,
        "vessel": house.yv,
    }
    assert refused_with(actions.crop_yeast, **values) == ("vessel", "not_released")
    house.emptied(vessel=house.yv, now=house.at(59))
    assert refused_with(actions.crop_yeast, **values) == ("vessel", "not_released")


def test_nothing_is_cropped_from_an_empty_vessel(house: Brewhouse) -> None:
    found = refused_with(house.cropped, number="Y-1", hours=60, generation=1)
    assert found == ("cropped_at", "empty")


def test_no_more_is_cropped_than_there_is(house: Brewhouse) -> None:
    house.brewed("B1", 1, volume_hl=20)
    found = refused_with(house.cropped, number="Y-1", hours=60, generation=1, volume_hl=20.5)
    assert found == ("volume_hl", "unbalanced")


@pytest.mark.parametrize("typed, refused", [(None, False), (1, False), (0, True), (2, True)])
def test_generation_is_one_more_than_what_was_pitched(
    house: Brewhouse, typed: int | None, refused: bool
) -> None:
    house.brewed("B1", 1)
    house.pitched(house.bought(), 2)
    if refused:
        found = refused_with(house.cropped, number="Y-1", hours=60, generation=typed)
        assert found[0] == "generation"
    else:
        assert house.cropped("Y-1", 60, generation=typed).generation == 1


def test_generation_is_asked_for_where_no_pitching_is_recorded(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    assert refused_with(house.cropped, number="Y-1", hours=60)[0] == "generation"
    assert house.cropped("Y-1", 60, generation=5).generation == 5
