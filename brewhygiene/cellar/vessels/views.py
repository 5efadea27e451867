"""Set-up of vessels: anybody signed in may look, the permitted may change."""

from collections.abc import Callable

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.by_date import SOURCE, within_of
from brewhygiene.cellar.models import Vessel
from brewhygiene.cellar.photos.files import prepared_photo
from brewhygiene.cellar.photos.forms import PhotoForm
from brewhygiene.cellar.queries import points_of, vessels_for_setup
from brewhygiene.cellar.usual_points import PROVENANCE, still_offered
from brewhygiene.cellar.vessels import actions
from brewhygiene.cellar.vessels.actions import KEPT
from brewhygiene.cellar.vessels.forms import ReasonForm, VesselForm, length_unit
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.people.signatures import guard_password
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.units import LABELS, convert


def vessels(request: Request) -> HttpResponse:
    context = {"room": "setup", "vessels": vessels_for_setup()}
    return render(request, "cellar/vessels/vessels.html", context)


def _warned(vessel: Vessel, said: str) -> str:
    """What is said of a saved vessel, and which of its materials cannot be checked."""
    if not vessel.unknown_materials:
        return said
    parts = ", ".join(vessel.unknown_materials)
    return f"{said} Material not known: {parts}. An agent that harms it is not refused."


@permission_needed("edit_setup")
def vessel_add(request: Request) -> HttpResponse:
    form = VesselForm(request.POST or None, brewery=request.brewery)
    vessel = submitted(
        request,
        form,
        lambda by: actions.add_vessel(by=by, **form.given),
        said=lambda added: _warned(added, f"{added} added. Add its sampling points next."),
    )
    if vessel is not None:
        return redirect("cellar:vessel", vessel.pk)
    return page(request, "cellar/vessels/edit.html", form=form, room="setup", by_date_from=SOURCE)


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
    return page(
        request,
        "cellar/vessels/vessel.html",
        form=photo_form,
        also=refused,
        room="setup",
        vessel=vessel,
        diameter=_shown_diameter(vessel, request.brewery),
        points=points,
        offered=still_offered(vessel.kind, {point.name for point in points}),
        offered_from=PROVENANCE,
        within=within_of(vessel),
        by_date_from=SOURCE,
        photo_form=photo_form or PhotoForm(auto_id="photo_%s"),
        small_form=refused or ActionForm(auto_id=False),
    )


def vessel(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel.objects.select_related("default_regime"), pk=pk)
    return _vessel_page(request, found)


@sensitive_post_parameters()
@permission_needed("edit_setup")
def vessel_edit(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel, pk=pk)
    form = VesselForm(
        request.POST or None,
        brewery=request.brewery,
        vessel=found,
        initial={name: getattr(found, name) for name in KEPT},
    )

    def act(by: Actor) -> Vessel:
        if form.given["password"]:
            guard_password(request, password=form.given["password"])
        return actions.edit_vessel(by=by, vessel=found, **form.given)

    if submitted(request, form, act, said=lambda saved: _warned(saved, f"{saved} saved.")):
        return redirect("cellar:vessel", pk)
    return page(
        request,
        "cellar/vessels/edit.html",
        form=form,
        room="setup",
        vessel=found,
        by_date_from=SOURCE,
    )


def _service(
    request: Request, pk: int, act: Callable[..., Vessel], *, said: str, out: bool
) -> HttpResponse:
    """A page that asks for the reason why a vessel is taken out of service or returned to it."""
    found = get_object_or_404(Vessel, pk=pk)
    form = ReasonForm(request.POST or None)
    if submitted(
        request,
        form,
        lambda by: act(by=by, vessel=found, **form.given),
        said=f"{found} {said}",
    ):
        return redirect("cellar:vessel", pk)
    return page(
        request, "cellar/vessels/service.html", form=form, room="setup", vessel=found, out=out
    )


@permission_needed("edit_setup")
def out_of_service(request: Request, pk: int) -> HttpResponse:
    return _service(request, pk, actions.take_out_of_service, said="is out of service.", out=False)


@permission_needed("edit_setup")
def back_in_service(request: Request, pk: int) -> HttpResponse:
    return _service(request, pk, actions.return_to_service, said="is back in service.", out=True)


@permission_needed("edit_setup")
def vessel_remove(request: Request, pk: int) -> HttpResponse:
    """Asks first, on a page of its own."""
    found = get_object_or_404(Vessel, pk=pk)
    form = ActionForm(sent(request))
    if submitted(
        request,
        form,
        lambda by: actions.remove_vessel(by=by, vessel=found),
        said=f"{found} is removed.",
    ):
        return redirect("cellar:vessels")
    return page(request, "cellar/vessels/remove.html", form=form, room="setup", vessel=found)


@require_POST
@permission_needed("edit_setup")
def vessel_photo_set(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel.objects.select_related("default_regime"), pk=pk)
    form = PhotoForm(request.POST, request.FILES, auto_id="photo_%s")
    if submitted(
        request,
        form,
        lambda by: actions.set_vessel_photo(
            by=by, vessel=found, photo=prepared_photo(form.cleaned_data["photo"])
        ),
        said=f"Photo of {found} saved.",
    ):
        return redirect("cellar:vessel", pk)
    return _vessel_page(request, found, photo_form=form)


@require_POST
@permission_needed("edit_setup")
def vessel_photo_remove(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel, pk=pk)
    form = ActionForm(request.POST)
    if submitted(
        request,
        form,
        lambda by: actions.set_vessel_photo(by=by, vessel=found, photo=None),
        said=f"Photo of {found} removed.",
    ):
        return redirect("cellar:vessel", pk)
    return _vessel_page(request, found, refused=form)
