"""Set-up of beers and of the hold clocks."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from brewhygiene.cellar import beer_actions, clock_actions
from brewhygiene.cellar.forms import BeerForm, ClocksForm, EditBeerForm
from brewhygiene.cellar.models import Beer
from brewhygiene.cellar.queries import beers_for_setup, stored_clocks
from brewhygiene.people.permissions import WHAT_IT_TAKES, may, permission_needed
from brewhygiene.people.requests import actor_of


def beers(request: HttpRequest) -> HttpResponse:
    return render(request, "cellar/beers.html", {"room": "setup", "beers": beers_for_setup()})


@permission_needed("edit_setup")
def beer_add(request: HttpRequest) -> HttpResponse:
    form = BeerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        beer = form.attempt(lambda: beer_actions.add_beer(by=actor_of(request), **form.values()))
        if beer is not None:
            messages.success(request, f"{beer} added.")
            return redirect("cellar:beers")
    context = {"room": "setup", "form": form}
    status = 422 if form.is_bound else 200
    return render(request, "cellar/beer_form.html", context, status=status)


@permission_needed("edit_setup")
def beer_edit(request: HttpRequest, pk: int) -> HttpResponse:
    beer = get_object_or_404(Beer, pk=pk)
    form = EditBeerForm(
        request.POST or None,
        initial={name: getattr(beer, name) for name in beer_actions.KEPT},
    )
    if request.method == "POST" and form.is_valid():
        saved = form.attempt(
            lambda: beer_actions.edit_beer(by=actor_of(request), beer=beer, **form.values())
        )
        if saved is not None:
            messages.success(request, f"{saved}: saved.")
            return redirect("cellar:beers")
    context = {"room": "setup", "form": form, "beer": beer}
    status = 422 if form.is_bound else 200
    return render(request, "cellar/beer_form.html", context, status=status)


def clocks(request: HttpRequest) -> HttpResponse:
    """One table for all kinds of vessel: to read for everybody, to fill in for the permitted."""
    may_edit = may(request.user, "edit_setup")
    if request.method == "POST" and not may_edit:
        raise PermissionDenied(WHAT_IT_TAKES["edit_setup"])
    form = ClocksForm(request.POST or None, stored=stored_clocks())
    if request.method == "POST" and form.is_valid():
        changed = form.changed_clocks()
        saved = form.attempt(
            lambda: clock_actions.set_hold_clocks(by=actor_of(request), clocks=changed)
        )
        if saved is not None:
            messages.success(request, "Saved. The clocks run on the board from now on.")
            return redirect("cellar:clocks")
    context = {
        "room": "setup",
        "form": form,
        "source": clock_actions.SOURCE,
        "may_edit": may_edit,
    }
    status = 422 if form.is_bound else 200
    return render(request, "cellar/clocks.html", context, status=status)
