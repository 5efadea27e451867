"""Set-up of a vessel's sampling points."""

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.cellar.photos.files import prepared_photo
from brewhygiene.cellar.photos.forms import PhotoForm
from brewhygiene.cellar.points import actions
from brewhygiene.cellar.points.forms import PointForm
from brewhygiene.cellar.usual_points import USUAL_POINTS
from brewhygiene.people.form_pages import button, confirmed, page, sign_off, submitted
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request


def _point(pk: int) -> SamplingPoint:
    return get_object_or_404(SamplingPoint.objects.select_related("vessel"), pk=pk)


@sensitive_post_parameters()
@permission_needed("edit_setup")
def point_add(request: Request, pk: int) -> HttpResponse:
    vessel = get_object_or_404(Vessel, pk=pk)
    form = PointForm(request.POST or None)
    if submitted(
        request,
        form,
        confirmed(
            request,
            form,
            lambda by, password: actions.add_point(
                by=by, vessel=vessel, password=password, **form.given
            ),
        ),
        said=lambda point: f"{point.name} added. Print its label from this page.",
    ):
        return redirect("cellar:vessel", pk)
    return page(request, "cellar/points/edit.html", form=form, room="setup", vessel=vessel)


@sensitive_post_parameters()
@permission_needed("edit_setup")
def point_usual(request: Request, pk: int) -> HttpResponse:
    """Add one of the usual points of this kind of vessel, by its name."""
    vessel = get_object_or_404(Vessel, pk=pk)
    name = request.GET.get("point", "")
    offer = next((o for o in USUAL_POINTS.get(vessel.kind, ()) if o.name == name), None)
    if offer is None:
        raise Http404("This is not a usual sampling point.")
    return sign_off(
        request,
        lambda by, password: actions.add_point(
            by=by, vessel=vessel, password=password, **offer._asdict()
        ),
        title=f"Add {offer.name}",
        about=f"Sampling point of {vessel.name}",
        do="Add sampling point",
        said=f"{offer.name} added.",
        to="cellar:vessel",
        args=(pk,),
    )


def _point_page(
    request: Request, point: SamplingPoint, form: PointForm, photo_form: PhotoForm
) -> HttpResponse:
    return page(
        request,
        "cellar/points/edit.html",
        form=form,
        also=photo_form,
        room="setup",
        photo_form=photo_form,
        small_form=ActionForm(auto_id=False),
        point=point,
        vessel=point.vessel,
    )


def _unsent(point: SamplingPoint) -> PointForm:
    return PointForm(
        initial={name: getattr(point, name) for name in actions.KEPT if name != "code"}
    )


@sensitive_post_parameters()
@permission_needed("edit_setup")
def point_edit(request: Request, pk: int) -> HttpResponse:
    point = _point(pk)
    form = PointForm(request.POST) if request.method == "POST" else _unsent(point)
    if submitted(
        request,
        form,
        confirmed(
            request,
            form,
            lambda by, password: actions.edit_point(
                by=by, point=point, password=password, **form.given
            ),
        ),
        said=lambda saved: f"{saved.name} saved.",
    ):
        return redirect("cellar:vessel", point.vessel_id)
    return _point_page(request, point, form, PhotoForm(auto_id="photo_%s"))


@sensitive_post_parameters()
@permission_needed("edit_setup")
def point_retire(request: Request, pk: int) -> HttpResponse:
    point = _point(pk)
    return sign_off(
        request,
        lambda by, password: actions.retire_point(by=by, point=point, password=password),
        title=f"Retire {point.name}",
        about="A retired sampling point takes no new readings. Its old readings stay.",
        do="Retire sampling point",
        said=f"{point.name} is retired. Its readings stay.",
        to="cellar:vessel",
        args=(point.vessel_id,),
    )


@sensitive_post_parameters()
@permission_needed("edit_setup")
def point_reinstate(request: Request, pk: int) -> HttpResponse:
    point = _point(pk)
    return sign_off(
        request,
        lambda by, password: actions.reinstate_point(by=by, point=point, password=password),
        title=f"Reinstate {point.name}",
        about=f"Sampling point of {point.vessel.name}",
        do="Reinstate sampling point",
        said=f"{point.name} is reinstated.",
        to="cellar:vessel",
        args=(point.vessel_id,),
    )


@require_POST
@permission_needed("edit_setup")
def point_photo_set(request: Request, pk: int) -> HttpResponse:
    point = _point(pk)
    form = PhotoForm(request.POST, request.FILES, auto_id="photo_%s")
    if submitted(
        request,
        form,
        lambda by: actions.set_point_photo(
            by=by, point=point, photo=prepared_photo(form.cleaned_data["photo"])
        ),
        said=f"Photo of {point.name} saved.",
    ):
        return redirect("cellar:point_edit", pk)
    return _point_page(request, point, _unsent(point), form)


@require_POST
@permission_needed("edit_setup")
def point_photo_remove(request: Request, pk: int) -> HttpResponse:
    point = _point(pk)
    return button(
        request,
        lambda by: actions.set_point_photo(by=by, point=point, photo=None),
        said=f"Photo of {point.name} removed.",
        to="cellar:point_edit",
        args=(pk,),
    )
