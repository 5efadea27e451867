"""Allergens and mixed cultures in hoses, fillers, heat exchangers, yeast and blends."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.batches.brews import actions as brew_actions
from brewhygiene.batches.crops import actions as crop_actions
from brewhygiene.batches.models.holds import Hold
from brewhygiene.batches.transfers.actions import Drawn
from brewhygiene.cellar.models import Vessel
from brewhygiene.changeovers.carried import carried_by
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.release import actions as release_actions
from tests.changeovers.scenes import Dairy
from tests.factories import PASSWORD, acting

MINUTE = timedelta(minutes=1)


def tag(vessel: Vessel, use: str) -> None:
    Vessel.objects.filter(pk=vessel.pk).update(culture_use=use)
    vessel.refresh_from_db()


def refused_by(call: Any) -> tuple[str | None, str | None]:
    entries = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        call()
    assert Entry.objects.count() == entries
    return refused.value.field, refused.value.code


def carries(vessel: Vessel) -> list[str]:
    return list(carried_by([vessel])[vessel.pk])


def test_all_that_the_beer_went_through_carries_it(house: Dairy) -> None:
    house.brewed("S-1", 0, beer=house.stout, through=(house.hx,))
    house.moved(house.fv, house.bt, 24, through=(house.hose,))
    house.packaged("L-1", house.bt, 48, through=(house.filler,))
    gear = [house.fv, house.hx, house.hose, house.bt, house.filler]
    assert [carries(each) for each in gear] == [["milk"]] * 5
    assert carries(house.yv) == []


def test_cropped_yeast_takes_it_along(house: Dairy) -> None:
    house.brewed("S-1", 0, beer=house.stout)
    crop = house.cropped("Y-1", 24, vessel=house.yv, generation=1, through=(house.hose,))
    assert [carries(house.yv), carries(house.hose)] == [["milk"], ["milk"]]
    house.brewed("S-2", 30, beer=house.stout, vessel=house.fv_2)
    brew_actions.pitch(
        by=acting(house.hand, now=house.at(31)),
        vessel=house.fv_2,
        crop=crop,
        pitched_at=house.at(31),
        through=(house.hx,),
    )
    assert carries(house.hx) == ["milk"]


def test_hose_that_carries_it_is_refused_until_it_is_proved(house: Dairy) -> None:
    house.validated()
    house.brewed("S-1", 0, beer=house.stout, through=(house.hose,))
    house.brewed("P-1", 24, vessel=house.fv_2)
    house.ready(house.bt, 39.5)
    move = lambda hours: house.moved(  # noqa: E731
        house.fv_2, house.bt, hours, through=(house.hose,), ready=False
    )
    assert refused_by(lambda: move(40)) == ("through", "allergen")
    house.proved(house.hose, 40.5)
    move(41.5)


def test_filling_through_gear_that_carries_it_is_refused(house: Dairy) -> None:
    house.brewed("S-1", 0, beer=house.stout, through=(house.hx,))
    house.ready(house.fv_2, 24)
    fill = lambda: house.filled(  # noqa: E731
        house.fv_2.turnarounds.get(closed_at__isnull=True),
        now=house.at(24),
        volume_hl=20,
        through=(house.hx,),
    )
    assert refused_by(fill) == ("through", "allergen")


def test_filler_and_crop_hose_are_asked_for_too(house: Dairy) -> None:
    house.brewed("S-1", 0, beer=house.stout, through=(house.hose, house.filler))
    house.brewed("P-1", 24, vessel=house.fv_2)
    package = lambda: house.packaged(  # noqa: E731
        "L-1", house.fv_2, 48, through=(house.filler,)
    )
    crop = lambda: house.cropped(  # noqa: E731
        "Y-1", 48, source=house.fv_2, generation=1, through=(house.hose,)
    )
    assert refused_by(package) == ("through", "allergen")
    assert refused_by(crop) == ("through", "allergen")


def test_transfer_into_a_vessel_that_carries_it_is_told_beside_the_vessel(house: Dairy) -> None:
    house.brewed("S-1", 0, beer=house.stout)
    house.brewed("P-1", 24, vessel=house.fv_2)
    house.ready(house.fv, 48)
    assert refused_by(lambda: house.moved(house.fv_2, house.fv, 48, ready=False)) == (
        "to_vessel",
        "allergen",
    )


def test_yeast_vessel_that_carries_it_is_told_beside_it(house: Dairy) -> None:
    house.brewed("S-1", 0, beer=house.stout)
    house.cropped("Y-1", 12, vessel=house.yv, generation=1)
    house.brewed("P-1", 24, vessel=house.fv_2)
    house.ready(house.yv, 48)
    assert refused_by(
        lambda: crop_actions.crop_yeast(
            by=acting(house.hand, now=house.at(48)),
            from_vessel=house.fv_2,
            number="Y-2",
            cropped_at=house.at(48),
            volume_hl=0.5,
            generation=1,
            vessel=house.yv,
        )
    ) == ("vessel", "allergen")


def test_blend_takes_no_allergen_that_its_beer_does_not_declare(house: Dairy) -> None:
    house.brewed("P-1", 0)
    house.brewed("S-1", 0.1, beer=house.stout, vessel=house.fv_2)
    house.ready(house.bt, 24)
    blend = lambda first, second: house.moved(  # noqa: E731
        first,
        house.bt,
        24,
        volume_hl=5,
        ready=False,
        more=(Drawn(second, 5, suffix="_2"),),
        batch="B-1",
    )
    assert refused_by(lambda: blend(house.fv, house.fv_2)) == ("vessel_2", "allergen")
    # The other way round it is a stout, which declares it.
    blend(house.fv_2, house.fv)


def test_pitching_yeast_of_a_beer_with_it_is_refused(house: Dairy) -> None:
    house.brewed("S-1", 0, beer=house.stout)
    crop = house.cropped("Y-1", 24, generation=1)
    house.brewed("P-1", 30, vessel=house.fv_2)
    assert refused_by(lambda: house.pitched(crop, 31, vessel=house.fv_2)) == ("crop", "allergen")
    house.brewed("S-2", 48, beer=house.stout, vessel=house.bt)
    house.pitched(crop, 49, vessel=house.bt)


def test_bought_yeast_carries_nothing(house: Dairy) -> None:
    house.brewed("P-1", 0)
    house.pitched(house.bought(hours=-1), 1)


@pytest.mark.parametrize(
    "use, sour, refused",
    [
        ("either", True, False),
        ("either", False, False),
        ("clean", True, True),
        ("clean", False, False),
        ("mixed", True, False),
        ("mixed", False, True),
    ],
)
def test_tag_of_a_vessel_decides_what_fills_it(
    house: Dairy, use: str, sour: bool, refused: bool
) -> None:
    tag(house.fv, use)
    house.ready(house.fv, 0)
    beer = house.sour if sour else house.pale
    fill = lambda: house.filled(  # noqa: E731
        house.fv.turnarounds.get(closed_at__isnull=True), now=house.at(0), beer=beer, volume_hl=20
    )
    if refused:
        assert refused_by(fill) == ("beer", "culture")
    else:
        fill()


@pytest.mark.parametrize("use, sour", [("clean", True), ("mixed", False)])
def test_tag_of_a_hose_decides_what_goes_through(house: Dairy, use: str, sour: bool) -> None:
    house.brewed("B-1", 0, beer=house.sour if sour else house.pale)
    house.ready(house.bt, 24)
    tag(house.hose, use)
    through = (house.hose,)
    for call in (
        lambda: house.moved(house.fv, house.bt, 24, through=through, ready=False),
        lambda: house.packaged("L-1", house.fv, 24, through=through),
        lambda: house.cropped("Y-1", 24, generation=1, through=through),
    ):
        assert refused_by(call) == ("through", "culture")
    crop = house.bought("Y-9", 23)
    assert refused_by(
        lambda: brew_actions.pitch(
            by=acting(house.hand, now=house.at(24)),
            vessel=house.fv,
            crop=crop,
            pitched_at=house.at(24),
            through=through,
        )
    ) == ("through", "culture")


def test_mixed_yeast_and_beer_go_into_no_other_beer(house: Dairy) -> None:
    house.brewed("M-1", 0, beer=house.sour)
    crop = house.cropped("Y-1", 24, generation=1)
    house.brewed("P-1", 30, vessel=house.fv_2)
    assert refused_by(lambda: house.pitched(crop, 31, vessel=house.fv_2)) == ("crop", "culture")
    house.ready(house.bt, 48)
    assert refused_by(
        lambda: house.moved(
            house.fv_2,
            house.bt,
            48,
            volume_hl=5,
            ready=False,
            more=(Drawn(house.fv, 5, suffix="_2"),),
            batch="B-1",
        )
    ) == ("vessel_2", "culture")


def test_hose_of_mixed_cultures_takes_mixed_yeast(house: Dairy) -> None:
    house.brewed("M-1", 0, beer=house.sour)
    crop = house.cropped("Y-1", 24, generation=1)
    house.brewed("M-2", 30, beer=house.sour, vessel=house.fv_2)
    tag(house.hose, "mixed")
    brew_actions.pitch(
        by=acting(house.hand, now=house.at(31)),
        vessel=house.fv_2,
        crop=crop,
        pitched_at=house.at(31),
        through=(house.hose,),
    )


def test_fill_without_release_that_crosses_cultures_is_held(house: Dairy) -> None:
    tag(house.hose, "mixed")
    turnaround = house.cleaned(now=house.at(0), vessel=house.fv)
    release_actions.record_fill_without_release(
        by=acting(house.brewer, now=house.at(1)),
        turnaround=turnaround,
        beer=house.pale,
        batch="P-9",
        volume_hl=20,
        filled_at=house.at(1),
        reason="Wrong hose",
        password=PASSWORD,
        through=(house.hose,),
    )
    assert Hold.objects.get().reason == "Hose one is tagged mixed culture only"
