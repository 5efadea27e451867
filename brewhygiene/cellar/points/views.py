"""Set-up of a vessel's sampling points."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.cellar.photos.files import prepared_photo
from brewhygiene.cellar.photos.forms import PhotoForm
from brewhygiene.cellar.points import actions as point_actions
from brewhygiene.cellar.points.actions import KEPT
from brewhygiene.cellar.points.forms import PointForm
from brewhygiene.cellar.usual_points import USUAL_POINTS
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of


def _tell(request: Request, form: ActionForm, done: SamplingPoint | None, words: str) -> None:
    """After a button without fields: what was done, or why not."""
    if done is not None:
        messages.success(request, words)
    for reasons in form.errors.values():
        messages.error(request, " ".join(map(str, reasons)))


def _point(pk: int) -> SamplingPoint:
    return get_object_or_404(SamplingPoint.objects.select_related("vessel"), pk=pk)


@permission_needed("edit_setup")
def point_add(request: Request, pk: int) -> HttpResponse:
    vessel = get_object_or_404(Vessel, pk=pk)
    form = PointForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        point = form.attempt(
            lambda: point_actions.add_point(by=actor_of(request), vessel=vessel, **form.values())
        )
        if point is not None:
            messages.success(request, f"{point.name} added. Print its label from this page.")
            return redirect("cellar:vessel", pk)
    context = {"room": "setup", "form": form, "vessel": vessel}
    status = 422 if form.is_bound else 200
    return render(request, "cellar/points/edit.html", context, status=status)


@require_POST
@permission_needed("edit_setup")
def point_usual(request: Request, pk: int) -> HttpResponse:
    """Add one of the usual points of this kind of vessel, by its name."""
    vessel = get_object_or_404(Vessel, pk=pk)
    name = request.POST.get("point", "")
    offer = next((o for o in USUAL_POINTS.get(vessel.kind, ()) if o.name == name), None)
    if offer is None:
        raise Http404("That is none of the usual points.")
    form = ActionForm(request.POST)
    point = form.attempt(
        lambda: point_actions.add_point(by=actor_of(request), vessel=vessel, **offer._asdict())
    )
    _tell(request, form, point, f"{offer.name} added.")
    return redirect("cellar:vessel", pk)


def _point_page(
    request: Request, point: SamplingPoint, form: PointForm, photo_form: PhotoForm
) -> HttpResponse:
    context = {
        "room": "setup",
        "form": form,
        "photo_form": photo_form,
        "small_form": ActionForm(auto_id=False),
        "retire_form": ActionForm(auto_id=False),
        "point": point,
        "vessel": point.vessel,
    }
    status = 422 if form.is_bound or photo_form.is_bound else 200
    return render(request, "cellar/points/edit.html", context, status=status)


def _unsent(point: SamplingPoint) -> PointForm:
    return PointForm(initial={name: getattr(point, name) for name in KEPT if name != "code"})


@permission_needed("edit_setup")
def point_edit(request: Request, pk: int) -> HttpResponse:
    point = _point(pk)
    form = PointForm(request.POST) if request.method == "POST" else _unsent(point)
    if form.is_bound and form.is_valid():
        saved = form.attempt(
            lambda: point_actions.edit_point(by=actor_of(request), point=point, **form.values())
        )
        if saved is not None:
            messages.success(request, f"{saved.name}: saved.")
            return redirect("cellar:vessel", point.vessel_id)
    return _point_page(request, point, form, PhotoForm(auto_id="photo_%s"))


@require_POST
@permission_needed("edit_setup")
def point_retire(request: Request, pk: int) -> HttpResponse:
    point, form = _point(pk), ActionForm(request.POST)
    done = form.attempt(lambda: point_actions.retire_point(by=actor_of(request), point=point))
    _tell(request, form, done, f"{point.name} is retired. Its readings stay.")
    return redirect("cellar:vessel", point.vessel_id)


@require_POST
@permission_needed("edit_setup")
def point_reinstate(request: Request, pk: int) -> HttpResponse:
    point, form = _point(pk), ActionForm(request.POST)
    done = form.attempt(lambda: point_actions.reinstate_point(by=actor_of(request), point=point))
    _tell(request, form, done, f"{point.name} is sampled again.")
    return redirect("cellar:vessel", point.vessel_id)


@require_POST
@permission_needed("edit_setup")
def point_photo_set(request: Request, pk: int) -> HttpResponse:
    point = _point(pk)
    form = PhotoForm(request.POST, request.FILES, auto_id="photo_%s")
    if form.is_valid():
        upload = form.cleaned_data["photo"]
        saved = form.attempt(
            lambda: point_actions.set_point_photo(
                by=actor_of(request), point=point, photo=prepared_photo(upload)
            )
        )
        if saved is not None:
            messages.success(request, f"{point.name}: new photo.")
            return redirect("cellar:point_edit", pk)
    return _point_page(request, point, _unsent(point), form)


@require_POST
@permission_needed("edit_setup")
def point_photo_remove(request: Request, pk: int) -> HttpResponse:
    point, form = _point(pk), ActionForm(request.POST)
    done = form.attempt(
        lambda: point_actions.set_point_photo(by=actor_of(request), point=point, photo=None)
    )
    _tell(request, form, done, f"{point.name}: photo removed.")
    return redirect("cellar:point_edit", pk)
