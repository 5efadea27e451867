"""The pages of batches, crops, lots and traces, to look at."""

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from brewhygiene.batches.brews.balance import balance_of
from brewhygiene.batches.corrections.signed import with_changes, with_corrections
from brewhygiene.batches.holds import holds_of, open_holds
from brewhygiene.batches.lots.actions import units_shipped
from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.corrections import ShipmentCorrection
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.pages.queries import batch_page, lines_of, movements_for_page
from brewhygiene.batches.pages.trace import rows_of
from brewhygiene.batches.trace.ranks import sources_of, trace_of
from brewhygiene.people.form_pages import page
from brewhygiene.people.requests import Request
from brewhygiene.plates.models import Plate

A_PAGE = 30
HELD_SHOWN = 50


def _listed(
    request: Request, template: str, rows: QuerySet[Batch] | QuerySet[YeastCrop] | QuerySet[Lot]
) -> HttpResponse:
    shown = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    held = open_holds()
    return page(
        request,
        template,
        room="batches",
        page=shown,
        open_holds=held[:HELD_SHOWN],
        held_batches=set(held.filter(batch__isnull=False).values_list("batch_id", flat=True)),
        held_crops=set(held.filter(crop__isnull=False).values_list("crop_id", flat=True)),
    )


def batches(request: Request) -> HttpResponse:
    """Every batch, the newest first, and what is held."""
    return _listed(request, "batches/lists/batches.html", Batch.objects.select_related("beer"))


def crops(request: Request) -> HttpResponse:
    """Every yeast crop, the newest first."""
    return _listed(
        request,
        "batches/lists/crops.html",
        YeastCrop.objects.select_related("vessel", "cropped_from", "plate"),
    )


def lots(request: Request) -> HttpResponse:
    """Every lot, the newest first."""
    return _listed(request, "batches/lists/lots.html", Lot.objects.select_related("batch__beer"))


def batch(request: Request, pk: int) -> HttpResponse:
    """One batch: where it is, how it came there, its yeast, its lots, its holds."""
    found = get_object_or_404(Batch.objects.select_related("beer", "recorded_by"), pk=pk)
    return page(
        request,
        "batches/batch.html",
        room="batches",
        batch=found,
        shown=batch_page(found),
        corrections=found.corrections.select_related("corrected_by"),
    )


def crop(request: Request, pk: int) -> HttpResponse:
    """One yeast crop: where it comes from, what it was pitched into, its plate, its holds."""
    found = get_object_or_404(
        YeastCrop.objects.select_related("cropped_from", "vessel", "plate__point__vessel"), pk=pk
    )
    holds = list(holds_of(found))
    return page(
        request,
        "batches/crop.html",
        room="batches",
        crop=found,
        holds=holds,
        open_hold=next((hold for hold in holds if hold.ended_at is None), None),
        lines=lines_of(
            movements_for_page().filter(from_crop=found)
            | movements_for_page().filter(to_crop=found)
        ),
    )


def lot(request: Request, pk: int) -> HttpResponse:
    """One lot: its batch, its customers, what is left of it, its recall drills."""
    found = get_object_or_404(Lot.objects.select_related("batch__beer", "recorded_by"), pk=pk)
    shipped = units_shipped(found)
    holds = list(holds_of(found.batch))
    shipments = found.shipments.select_related("customer", "recorded_by").prefetch_related(
        with_corrections(ShipmentCorrection)
    )
    return page(
        request,
        "batches/lot.html",
        room="batches",
        lot=found,
        lines=lines_of(movements_for_page().filter(to_lot=found)),
        shipments=[(shipment, with_changes(shipment.corrections.all())) for shipment in shipments],
        shipped_away=found.shipped_away.select_related("signature", "shipment__lot"),
        shipped=shipped,
        left=found.units - shipped,
        corrections=found.corrections.select_related("corrected_by"),
        open_hold=next((hold for hold in holds if hold.ended_at is None), None),
        drills=found.drills.select_related("started_by", "ended_by"),
        balance=balance_of(found.batch),
    )


def trace(request: Request, pk: int) -> HttpResponse:
    """What a positive plate puts at risk, by rank, each with its decision."""
    plate = get_object_or_404(Plate.objects.select_related("point__vessel", "vessel"), pk=pk)
    positive = plate.state == "positive"
    found = trace_of(plate) if positive else None
    return page(
        request,
        "batches/trace/trace.html",
        room="plates",
        plate=plate,
        trace=found,
        rows=rows_of(found) if found is not None else None,
        sources=sources_of(found) if found is not None else None,
    )
