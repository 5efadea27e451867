"""The brewery's own settings."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect

from brewhygiene.brewery import actions
from brewhygiene.brewery.forms import BreweryForm, PricesForm
from brewhygiene.brewery.models import Brewery
from brewhygiene.certificates.addresses import preset_address
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import WHAT_IT_TAKES, may_any
from brewhygiene.people.requests import Request, sent


def _settings(
    request: Request, form: ActionForm, act: Callable[..., Brewery], template: str, *, said: str
) -> HttpResponse:
    """To read for everybody signed in, to fill in for head brewer and owner."""
    may_edit = may_any(request.user, ("edit_setup", "manage_people"))
    if request.method == "POST" and not may_edit:
        raise PermissionDenied(WHAT_IT_TAKES["manage_people"])
    if submitted(request, form, lambda by: act(by=by, **form.given), said=said):
        return redirect("setup:index")
    return page(
        request,
        template,
        form=form,
        room="setup",
        may_edit=may_edit,
        preset_address=preset_address(),
    )


def edit(request: Request) -> HttpResponse:
    """Name, place, time zone, units and burette."""
    initial = {name: getattr(request.brewery, name) for name in actions.KEPT}
    form = BreweryForm(sent(request), initial=initial)
    return _settings(
        request, form, actions.edit_brewery, "brewery/brewery.html", said="Brewery saved."
    )


def prices(request: Request) -> HttpResponse:
    """What a clean's cost follows from."""
    brewery = request.brewery
    initial: dict[str, Any] = {name: getattr(brewery, name) for name in actions.PRICES}
    initial["heat_percent"] = brewery.heat_efficiency * 100
    form = PricesForm(sent(request), brewery=brewery, initial=initial)
    return _settings(
        request,
        form,
        actions.edit_prices,
        "brewery/prices.html",
        said="Prices saved. All costs are calculated with them from now on.",
    )
