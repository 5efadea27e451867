"""The brewery's own settings."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect, render

from brewhygiene.brewery import actions
from brewhygiene.brewery.forms import BreweryForm, PricesForm
from brewhygiene.people.permissions import WHAT_IT_TAKES, may_any
from brewhygiene.people.requests import Request, actor_of, sent


def edit(request: Request) -> HttpResponse:
    """To read for everybody signed in, to fill in for head brewer and owner."""
    may_edit = may_any(request.user, ("edit_setup", "manage_people"))
    if request.method == "POST" and not may_edit:
        raise PermissionDenied(WHAT_IT_TAKES["manage_people"])
    brewery = request.brewery
    form = BreweryForm(
        request.POST or None, initial={name: getattr(brewery, name) for name in actions.KEPT}
    )
    if request.method == "POST" and form.is_valid():
        saved = form.attempt(lambda: actions.edit_brewery(by=actor_of(request), **form.values()))
        if saved is not None:
            messages.success(request, "Saved.")
            return redirect("setup:index")
    context = {"room": "setup", "form": form, "may_edit": may_edit}
    status = 422 if form.is_bound else 200
    return render(request, "brewery/brewery.html", context, status=status)


def prices(request: Request) -> HttpResponse:
    """What a clean's cost follows from; to read for everybody, for head brewer and owner to set."""
    may_edit = may_any(request.user, ("edit_setup", "manage_people"))
    if request.method == "POST" and not may_edit:
        raise PermissionDenied(WHAT_IT_TAKES["manage_people"])
    brewery = request.brewery
    initial = {name: getattr(brewery, name) for name in actions.PRICES}
    form = PricesForm(
        sent(request),
        brewery=brewery,
        initial={**initial, "heat_percent": brewery.heat_efficiency * 100},
    )
    if request.method == "POST" and form.is_valid():
        saved = form.attempt(lambda: actions.edit_prices(by=actor_of(request), **form.values()))
        if saved is not None:
            messages.success(request, "Saved. Every cost follows from now on.")
            return redirect("setup:index")
    context = {"room": "setup", "form": form, "may_edit": may_edit}
    status = 422 if form.is_bound else 200
    return render(request, "brewery/prices.html", context, status=status)
