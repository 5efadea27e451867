"""Set-up of skids, hoses and solution tanks: the head brewer signs."""

from collections.abc import Callable
from typing import Any

from django.db.models import Model
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.skids.gear import actions
from brewhygiene.skids.gear.forms import SkidForm, TankForm
from brewhygiene.skids.models import Skid, SolutionTank


def _kept(record: Model | None, names: object) -> dict[str, object]:
    assert isinstance(names, dict)
    return {} if record is None else {name: getattr(record, name) for name in names}


def _saved(
    request: Request,
    form: SkidForm | TankForm,
    save: Callable[[Actor, str], Skid | SolutionTank],
    name: str,
    **context: Any,
) -> HttpResponse:
    """Save what the form says, and go to the page of that name; the form again where it cannot."""
    saved = submitted(
        request, form, confirmed(request, form, save), said=lambda kept: f"{kept.name} saved."
    )
    if saved is not None:
        return redirect(f"skids:{name}", saved.pk)
    return page(request, f"skids/edit_{name}.html", form=form, room="setup", **context)


def _save_skid(request: Request, skid: Skid | None) -> HttpResponse:
    known = _kept(skid, actions.SkidValues.__dataclass_fields__)
    form = SkidForm(sent(request), brewery=request.brewery, skid=skid, initial=known)

    def save(by: Actor, password: str) -> Skid:
        return actions.save_skid(by=by, values=form.values(), skid=skid, password=password)

    return _saved(request, form, save, "skid", skid=skid)


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
    known = _kept(tank, actions.TankValues.__dataclass_fields__)
    form = TankForm(sent(request), brewery=request.brewery, tank=tank, initial=known)

    def save(by: Actor, password: str) -> SolutionTank:
        return actions.save_tank(
            by=by, skid=skid, values=form.values(), tank=tank, password=password
        )

    return _saved(request, form, save, "tank", skid=skid, tank=tank)


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
