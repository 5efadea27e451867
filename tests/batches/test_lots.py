"""Lots, shipments and recall drills: units that balance, customers and all that is behind."""

from datetime import UTC, date, datetime, timedelta

import pytest

from brewhygiene.batches.lots.actions import units_shipped
from brewhygiene.batches.models.lots import Customer, Lot, RecallDrill, Shipment
from brewhygiene.batches.recall.actions import begin_drill, end_drill
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Emptying
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from tests.batches.scenes import Brewhouse
from tests.batches.test_batches import way
from tests.factories import acting


@pytest.fixture
def lot(house: Brewhouse) -> Lot:
    house.brewed("B1", 1, volume_hl=20, through=(house.hx,))
    house.pitched(house.bought(), 2)
    house.moved(house.fv, house.bt, 50, volume_hl=19, through=(house.hose,))
    return house.packaged("L-1", house.bt, 60, units=50, through=(house.filler,))


def test_lot_keeps_its_batch_and_its_way(house: Brewhouse, lot: Lot) -> None:
    assert (lot.batch.number, lot.units, lot.volume_hl) == ("B1", 50, 15)
    fill = lot.origins.get().from_fill
    assert way(lot.origins.get()) == [str(fill), "BT one", "Filler one", "L-1"]
    assert Entry.objects.get(verb="package lot").values["units"] == 50


def test_packaging_may_empty_its_vessel(house: Brewhouse, lot: Lot) -> None:
    house.packaged("L-2", house.bt, 61, units=10, loss_hl=1, loss_reason="Foam", empties=True)
    assert Emptying.objects.filter(vessel=house.bt, fill__batch="B1").count() == 1


@pytest.mark.parametrize(
    "values, field",
    [
        ({"number": " "}, "number"),
        ({"number": "l-1"}, "number"),
        ({"container": ""}, "container"),
        ({"unit_l": 0}, "unit_l"),
        ({"unit_l": 10_001}, "unit_l"),
        ({"units": 0}, "units"),
        ({"units": 15}, "units"),  # 4.5 hL of the 4 hL that are left
        ({"loss_hl": 1}, "loss_reason"),
        ({"loss_hl": 3, "loss_reason": "Foam"}, "units"),
        ({"empties": True, "units": 1}, "loss_hl"),
        ({"best_before": -1}, "best_before"),
    ],
)
def test_lot_that_cannot_be_is_refused_beside_its_field(
    house: Brewhouse, lot: Lot, values: dict[str, object], field: str
) -> None:
    if "best_before" in values:
        values = {"best_before": (house.at(61) + timedelta(days=values["best_before"])).date()}
    with pytest.raises(Refusal) as refused:
        house.packaged(vessel=house.bt, hours=61, **{"number": "L-2", "units": 5, **values})
    assert refused.value.field == field
    assert Lot.objects.count() == 1


def test_shipment_says_who_got_what_and_when(house: Brewhouse, lot: Lot) -> None:
    """One step forward: name and address, quantity, lot, day. EU 178/2002, article 18."""
    shipment = house.shipped(lot, 70, document="DN 12")
    assert (shipment.customer.name, shipment.units) == ("The Ninth Lantern (invented)", 4)
    assert shipment.customer.address == "9 Quay Row, Tolvenhythe"
    assert (shipment.shipped_on, shipment.document) == (house.at(70).date(), "DN 12")
    # A known customer needs no address again, however it is spelt.
    house.shipped(lot, 71, customer="the ninth  LANTERN (invented)", address="")
    assert Customer.objects.count() == 1
    assert units_shipped(lot) == 8


def test_days_are_the_brewerys_own(house: Brewhouse, lot: Lot) -> None:
    """Half past midnight in Berlin is still the day before by the server."""
    Brewery.objects.update(time_zone="Europe/Berlin")
    after_midnight, new_day = 62.5, date(2026, 3, 13)
    assert house.at(after_midnight) == datetime(2026, 3, 12, 23, 30, tzinfo=UTC)
    assert house.shipped(lot, after_midnight, shipped_on=new_day).shipped_on == new_day
    with pytest.raises(Refusal, match="not in the future"):
        house.shipped(lot, after_midnight, shipped_on=new_day + timedelta(days=1))
    made = {"vessel": house.bt, "hours": after_midnight, "units": 5}
    with pytest.raises(Refusal, match="after the packaging"):
        house.packaged("L-2", best_before=new_day - timedelta(days=1), **made)
    second = house.packaged("L-2", best_before=new_day, **made)
    with pytest.raises(Refusal, match="not packaged yet"):
        house.shipped(second, after_midnight, shipped_on=new_day - timedelta(days=1))


@pytest.mark.parametrize(
    "values, field",
    [
        ({"customer": " "}, "customer"),
        ({"customer": "Another", "address": " "}, "address"),
        ({"address": "Elsewhere 1"}, "address"),
        ({"units": 0}, "units"),
        ({"units": 47}, "units"),
        ({"days": 1}, "shipped_on"),
        ({"days": -1}, "shipped_on"),
    ],
)
def test_shipment_that_cannot_be_is_refused_beside_its_field(
    house: Brewhouse, lot: Lot, values: dict[str, object], field: str
) -> None:
    house.shipped(lot, 61)
    values = dict(values)
    if "days" in values:
        values["shipped_on"] = house.at(62).date() + timedelta(days=values.pop("days"))
    with pytest.raises(Refusal) as refused:
        house.shipped(lot, 62, **values)
    assert refused.value.field == field
    assert (Shipment.objects.count(), Customer.objects.count()) == (1, 1)


# --- recall drills ---


def begun(house: Brewhouse, lot: Lot, hours: float = 80) -> RecallDrill:
    return begin_drill(by=acting(house.brewer, now=house.at(hours)), lot=lot)


def test_drill_goes_both_ways_and_is_timed_by_the_server(house: Brewhouse, lot: Lot) -> None:
    house.shipped(lot, 70, units=20)
    drill = begun(house, lot)
    now = house.at(80) + timedelta(minutes=42)
    ended = end_drill(by=acting(house.brewer, now=now), drill=drill, in_stock=29, lost=1)
    assert ended.ended_at - ended.started_at == timedelta(minutes=42)
    assert ended.found == {
        "customers": [
            {
                "name": "The Ninth Lantern (invented)",
                "address": "9 Quay Row, Tolvenhythe",
                "units": 20,
                "shipped_on": f"{house.at(70).day} {house.at(70):%b %Y}",
                "document": "",
            }
        ],
        "batches": [f"B1, {house.pale}"],
        "crops": ["Y-0, Yeast bank (invented), lot 7"],
        "vessels": ["BT one", "Filler one", house.fv.name, "Hose one", "HX one"],
        "units": {"produced": 50, "shipped": 20, "in_stock": 29, "lost": 1, "difference": 0},
        "volumes": {
            "produced": 20, "packaged": 15, "in_vessels": 5, "yeast": 0, "dumped": 0, "lost": 0,
            "difference": 0,
        },
    }  # fmt: skip
    assert Entry.objects.get(verb="end recall drill").values["seconds"] == 42 * 60


@pytest.mark.parametrize("in_stock, lost", [(28, 1), (30, 1)])
def test_difference_of_a_drill_has_to_be_explained(
    house: Brewhouse, lot: Lot, in_stock: int, lost: int
) -> None:
    house.shipped(lot, 70, units=20)
    drill = begun(house, lot)
    by = acting(house.brewer, now=house.at(81))
    with pytest.raises(Refusal) as refused:
        end_drill(by=by, drill=drill, in_stock=in_stock, lost=lost)
    assert (refused.value.field, refused.value.code) == ("explanation", "unbalanced")
    assert RecallDrill.objects.get().ended_at is None
    ended = end_drill(
        by=by, drill=drill, in_stock=in_stock, lost=lost, explanation="One keg miscounted"
    )
    assert ended.found["units"]["difference"] == 50 - 20 - in_stock - lost


@pytest.mark.parametrize("values, field", [((51, 0), "in_stock"), ((0, 51), "lost")])
def test_more_than_was_packaged_is_not_counted(
    house: Brewhouse, lot: Lot, values: tuple[int, int], field: str
) -> None:
    drill = begun(house, lot)
    with pytest.raises(Refusal) as refused:
        end_drill(
            by=acting(house.brewer, now=house.at(81)),
            drill=drill,
            in_stock=values[0],
            lost=values[1],
            explanation="x",
        )
    assert refused.value.field == field


def test_one_drill_of_a_lot_runs_at_a_time_and_ends_once(house: Brewhouse, lot: Lot) -> None:
    drill = begun(house, lot)
    with pytest.raises(Refusal) as refused:
        begun(house, lot)
    assert refused.value.code == "running"
    by = acting(house.brewer, now=house.at(81))
    end_drill(by=by, drill=drill, in_stock=50, lost=0)
    with pytest.raises(Refusal) as refused:
        end_drill(by=by, drill=drill, in_stock=50, lost=0)
    assert refused.value.code == "ended"
    assert begun(house, lot, hours=90).pk != drill.pk


def test_cellar_hand_begins_no_drill(house: Brewhouse, lot: Lot) -> None:
    with pytest.raises(NotAllowed):
        begin_drill(by=acting(house.hand, now=house.at(80)), lot=lot)
