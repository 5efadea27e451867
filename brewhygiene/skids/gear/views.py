"""Set-up of skids, hoses and solution tanks: the head brewer signs."""

from django.db.models import Model
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.skids.gear import actions
from brewhygiene.skids.gear.forms import SkidForm, TankForm
from brewhygiene.skids.models import Skid, SolutionTank


def _kept(record: Model | None, names: object) -> dict[str, object]:
    assert isinstance(names, dict)
    return {} if record is None else {name: getattr(record, name) for name in names}


def _save_skid(request: Request, skid: Skid | None) -> HttpResponse:
    form = SkidForm(
        sent(request),
        brewery=request.brewery,
        skid=skid,
        initial=_kept(skid, actions.SkidValues.__dataclass_fields__),
    )
    saved = submitted(
        request,
        form,
        confirmed(
            request,
            form,
            lambda by, password: actions.save_skid(
                by=by, values=form.values(), skid=skid, password=password
            ),
        ),
        said=lambda kept: f"{kept.name} saved.",
    )
    if saved is not None:
        return redirect("skids:skid", saved.pk)
    return page(request, "skids/edit_skid.html", form=form, room="setup", skid=skid)


@sensitive_post_parameters("password")
@permission_needed("edit_setup")
def add_skid(request: Request) -> HttpResponse:
    """Put a skid or a cleaning hose on record."""
    return _save_skid(request, None)


@sensitive_post_parameters("password")
@permission_needed("edit_setup")
def edit_skid(request: Request, pk: int) -> HttpResponse:
    """Change a skid or a cleaning hose, or retire it."""
    return _save_skid(request, get_object_or_404(Skid, pk=pk))


def _save_tank(request: Request, skid: Skid, tank: SolutionTank | None) -> HttpResponse:
    form = TankForm(
        sent(request),
        brewery=request.brewery,
        tank=tank,
        initial=_kept(tank, actions.TankValues.__dataclass_fields__),
    )
    saved = submitted(
        request,
        form,
        confirmed(
            request,
            form,
            lambda by, password: actions.save_tank(
                by=by, skid=skid, values=form.values(), tank=tank, password=password
            ),
        ),
        said=lambda kept: f"{kept.name} saved.",
    )
    if saved is not None:
        return redirect("skids:tank", saved.pk)
    return page(request, "skids/edit_tank.html", form=form, room="setup", skid=skid, tank=tank)


@sensitive_post_parameters("password")
@permission_needed("edit_setup")
def add_tank(request: Request, pk: int) -> HttpResponse:
    """Put a solution tank of a skid on record, with its dump rule."""
    return _save_tank(request, get_object_or_404(Skid, pk=pk), None)


@sensitive_post_parameters("password")
@permission_needed("edit_setup")
def edit_tank(request: Request, pk: int) -> HttpResponse:
    """Change a solution tank or its dump rule, or retire it."""
    tank = get_object_or_404(SolutionTank.objects.select_related("skid"), pk=pk)
    return _save_tank(request, tank.skid, tank)
