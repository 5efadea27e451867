"""Set-up of vessels: anybody signed in may look, the permitted may change."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.cellar.photos.files import prepared_photo
from brewhygiene.cellar.photos.forms import PhotoForm
from brewhygiene.cellar.queries import points_of, vessels_for_setup
from brewhygiene.cellar.usual_points import PROVENANCE, still_offered
from brewhygiene.cellar.vessels import actions
from brewhygiene.cellar.vessels.actions import KEPT
from brewhygiene.cellar.vessels.forms import ReasonForm, VesselForm, length_unit
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.units import LABELS, convert


def _status(form: Any) -> int:
    return 422 if form.is_bound else 200


def vessels(request: Request) -> HttpResponse:
    context = {"room": "setup", "vessels": vessels_for_setup()}
    return render(request, "cellar/vessels/vessels.html", context)


@permission_needed("edit_setup")
def vessel_add(request: Request) -> HttpResponse:
    form = VesselForm(request.POST or None, brewery=request.brewery)
    if request.method == "POST" and form.is_valid():
        vessel = form.attempt(lambda: actions.add_vessel(by=actor_of(request), **form.values()))
        if vessel is not None:
            messages.success(request, f"{vessel} is on the board. Its sampling points come next.")
            return redirect("cellar:vessel", vessel.pk)
    context = {"room": "setup", "form": form}
    return render(request, "cellar/vessels/edit.html", context, status=_status(form))


def _shown_diameter(vessel: Vessel, brewery: Brewery) -> str:
    if vessel.diameter_m is None:
        return ""
    unit = length_unit(brewery)
    return f"{show_number(convert(vessel.diameter_m, 'm', unit))} {LABELS[unit]}"


def _vessel_page(
    request: Request,
    vessel: Vessel,
    *,
    photo_form: PhotoForm | None = None,
    refused: ActionForm | None = None,
) -> HttpResponse:
    """The vessel's set-up page, with whichever of its small forms came back refused."""
    points = points_of(vessel)
    context = {
        "room": "setup",
        "vessel": vessel,
        "diameter": _shown_diameter(vessel, request.brewery),
        "points": points,
        # A form each: its key is what keeps a button from counting twice.
        "offered": [
            (offer, ActionForm(auto_id=False))
            for offer in still_offered(vessel.kind, {point.name for point in points})
        ],
        "offered_from": PROVENANCE,
        "photo_form": photo_form or PhotoForm(auto_id="photo_%s"),
        "small_form": refused or ActionForm(auto_id=False),
    }
    bound = photo_form is not None or refused is not None
    return render(request, "cellar/vessels/vessel.html", context, status=422 if bound else 200)


def vessel(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel.objects.select_related("default_regime"), pk=pk)
    return _vessel_page(request, found)


@permission_needed("edit_setup")
def vessel_edit(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel, pk=pk)
    form = VesselForm(
        request.POST or None,
        brewery=request.brewery,
        vessel=found,
        initial={name: getattr(found, name) for name in KEPT},
    )
    if request.method == "POST" and form.is_valid():
        saved = form.attempt(
            lambda: actions.edit_vessel(by=actor_of(request), vessel=found, **form.values())
        )
        if saved is not None:
            messages.success(request, f"{saved}: saved.")
            return redirect("cellar:vessel", pk)
    context = {"room": "setup", "form": form, "vessel": found}
    return render(request, "cellar/vessels/edit.html", context, status=_status(form))


@permission_needed("edit_setup")
def out_of_service(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel, pk=pk)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        done = form.attempt(
            lambda: actions.take_out_of_service(
                by=actor_of(request), vessel=found, reason=form.cleaned_data["reason"]
            )
        )
        if done is not None:
            messages.success(request, f"{done} is out of service.")
            return redirect("cellar:vessel", pk)
    context = {"room": "setup", "form": form, "vessel": found, "out": False}
    return render(request, "cellar/vessels/service.html", context, status=_status(form))


@permission_needed("edit_setup")
def back_in_service(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel, pk=pk)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        done = form.attempt(
            lambda: actions.put_back_in_service(
                by=actor_of(request), vessel=found, reason=form.cleaned_data["reason"]
            )
        )
        if done is not None:
            messages.success(request, f"{done} is back in service.")
            return redirect("cellar:vessel", pk)
    context = {"room": "setup", "form": form, "vessel": found, "out": True}
    return render(request, "cellar/vessels/service.html", context, status=_status(form))


@permission_needed("edit_setup")
def vessel_remove(request: Request, pk: int) -> HttpResponse:
    """Asks first, on a page of its own."""
    found = get_object_or_404(Vessel, pk=pk)
    form = ActionForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        gone = form.attempt(lambda: actions.remove_vessel(by=actor_of(request), vessel=found))
        if gone is not None:
            messages.success(request, f"{gone} is removed.")
            return redirect("cellar:vessels")
    context = {"room": "setup", "form": form, "vessel": found}
    return render(request, "cellar/vessels/remove.html", context, status=_status(form))


@require_POST
@permission_needed("edit_setup")
def vessel_photo_set(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel.objects.select_related("default_regime"), pk=pk)
    form = PhotoForm(request.POST, request.FILES, auto_id="photo_%s")
    if form.is_valid():
        upload = form.cleaned_data["photo"]
        saved = form.attempt(
            lambda: actions.set_vessel_photo(
                by=actor_of(request), vessel=found, photo=prepared_photo(upload)
            )
        )
        if saved is not None:
            messages.success(request, f"{found}: new photo.")
            return redirect("cellar:vessel", pk)
    return _vessel_page(request, found, photo_form=form)


@require_POST
@permission_needed("edit_setup")
def vessel_photo_remove(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel, pk=pk)
    form = ActionForm(request.POST)
    saved = form.attempt(
        lambda: actions.set_vessel_photo(by=actor_of(request), vessel=found, photo=None)
    )
    if saved is None:
        return _vessel_page(request, found, refused=form)
    messages.success(request, f"{found}: photo removed.")
    return redirect("cellar:vessel", pk)
