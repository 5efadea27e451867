"""The invented brewery's positive plate: what it puts at risk, in rank, and what was decided."""

from datetime import timedelta

from brewhygiene.batches.holds import open_holds
from brewhygiene.batches.models.holds import Hold, HoldDecision
from brewhygiene.batches.models.lots import Lot, RecallDrill
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.batches.trace.ranks import trace_of
from brewhygiene.plates.models import Plate
from tests.demo.conftest import NOW


def open_plate() -> Plate:
    return Plate.objects.select_related("point__vessel", "vessel").get(
        state="positive", resolved_at__isnull=True
    )


def test_plate_names_bright_tank_yeast_vessel_and_heat_exchanger_in_rank(said: list[str]) -> None:
    found = trace_of(open_plate())
    beer = [{fill.vessel.name for fill in one.fills} for one in found.beer]
    assert [one.batch.beer.name for one in found.beer] == ["Ambrellow Pale", "Skellavine Lager"]
    assert beer[0] >= {"FV 1", "BT 1", "BT 2"}
    assert beer[1] >= {"FV 1"}
    assert [(one.crop.number, one.crop.vessel.name) for one in found.yeast] == [("Y-02", "YV 1")]
    equipment = [one.vessel.name for one in (*found.not_cleaned, *found.cleaned)]
    assert {"BT 1", "BT 2", "YV 1", "HX 1", "Hose set A"} <= set(equipment)
    assert "YV 1" in [one.vessel.name for one in found.not_cleaned]
    assert {"BT 1", "BT 2"} <= {one.vessel.name for one in found.cleaned}


def test_its_crop_is_destroyed_and_its_beer_waits_for_a_decision(said: list[str]) -> None:
    plate = open_plate()
    assert [hold.outcome for hold in Hold.objects.filter(plate=plate, crop__isnull=False)] == [
        "destroy"
    ]
    about = [hold.about for hold in open_holds().order_by("rank", "pk")]
    batches = [f"batch {one.batch.number}" for one in trace_of(plate).beer]
    assert about == [*batches, "the equipment and what went through it"]


def test_first_plate_was_decided_hold_by_hold(said: list[str]) -> None:
    closed = Plate.objects.filter(vessel__name="BT 1", state="positive").latest("taken_at")
    holds = Hold.objects.filter(plate=closed)
    assert {hold.outcome for hold in holds} == {"release"}
    choices = HoldDecision.objects.filter(hold__batch__isnull=False, hold__plate=closed)
    assert [one.choice for one in choices.order_by("pk")] == ["sample", "release"] * (
        len(choices) // 2
    )
    assert len(choices) > 0


def test_beer_was_pitched_transferred_packaged_and_shipped(said: list[str]) -> None:
    kinds = set(Movement.objects.values_list("kind", flat=True))
    # Nothing of the demonstration stood in a vessel before its record began, or was taken back.
    assert kinds == set(MovementKind.values) - {MovementKind.STOOD, MovementKind.VOID}
    assert Lot.objects.count() > 5
    customers = [
        sorted({shipment.customer.name for shipment in lot.shipments.all()})
        for lot in Lot.objects.filter(packaged_at__lt=NOW - timedelta(days=2))
    ]
    assert len(customers) > 4
    assert customers == [["Brindlequay Stores", "Gullwether Inn", "Othermoss Tap"]] * len(customers)


def test_recall_drill_took_37_minutes_and_names_its_difference(said: list[str]) -> None:
    drill = RecallDrill.objects.get()
    assert (drill.ended_at - drill.started_at).total_seconds() == 37 * 60
    assert drill.found["units"]["difference"] == 1
    assert drill.explanation != ""
    assert len(drill.found["customers"]) == 3
