"""Yeast crops: crop one, record a bought one, say which plate is its own."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from brewhygiene.batches.crops import actions
from brewhygiene.batches.crops.forms import BoughtForm, CropForm, PlateForm
from brewhygiene.batches.models.batches import YeastCrop
from brewhygiene.batches.transfers.queries import tanks_with_status
from brewhygiene.cellar.models import Vessel, VesselKind
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.plates.models import Plate

PLATES_OFFERED = 50


def _given(form: CropForm | BoughtForm, by: Actor) -> dict[str, Any]:
    """What was filled in, in the stored units; the time now where none was given."""
    given = form.given
    given["volume_hl"] = given.pop("volume_l") / 100
    given["cropped_at"] = given["cropped_at"] or by.now
    return given


def _recorded(crop: YeastCrop) -> str:
    return f"Yeast crop {crop.number} is recorded."


@permission_needed("fill_vessel")
def crop(request: Request, pk: int) -> HttpResponse:
    """Crop yeast from what a vessel contains."""
    vessel = get_object_or_404(Vessel, pk=pk)
    tanks, notes = tanks_with_status(timezone.now())
    form = CropForm(
        sent(request),
        brewery=request.brewery,
        targets=tanks.filter(kind=VesselKind.YEAST_VESSEL),
        notes=notes,
    )

    def act(by: Actor) -> YeastCrop:
        given = _given(form, by)
        return actions.crop_yeast(
            by=by, from_vessel=vessel, **{**given, "through": tuple(given["through"])}
        )

    made = submitted(request, form, act, said=_recorded)
    if made is not None:
        return redirect("batches:crop", made.pk)
    return page(
        request,
        "batches/forms/of_vessel.html",
        form=form,
        room="board",
        vessel=vessel,
        title=f"Yeast crop from {vessel.name}",
        here="Yeast crop",
        do="Record yeast crop",
    )


@permission_needed("work_cellar")
def bought(request: Request) -> HttpResponse:
    """Record yeast that was bought."""
    form = BoughtForm(sent(request), brewery=request.brewery)
    made = submitted(
        request,
        form,
        lambda by: actions.receive_yeast(by=by, **_given(form, by)),
        said=_recorded,
    )
    if made is not None:
        return redirect("batches:crop", made.pk)
    return page(request, "batches/forms/bought.html", form=form, room="batches")


@permission_needed("work_cellar")
def plate(request: Request, pk: int) -> HttpResponse:
    """Say which plate is of a crop."""
    found = get_object_or_404(YeastCrop, pk=pk)
    newest = (
        Plate.objects.filter(taken_at__gte=found.cropped_at)
        .order_by("-taken_at")
        .values("pk")[:PLATES_OFFERED]
    )
    plates = Plate.objects.filter(pk__in=newest).select_related("point__vessel")
    form = PlateForm(sent(request), plates=plates.order_by("-taken_at"))
    said = f"The plate of {found.number} is recorded."
    if submitted(
        request,
        form,
        lambda by: actions.link_plate(by=by, crop=found, plate=form.cleaned_data["plate"]),
        said=said,
    ):
        return redirect("batches:crop", found.pk)
    return page(request, "batches/forms/crop_plate.html", form=form, room="batches", crop=found)
