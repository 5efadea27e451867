"""Set-up of beers."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from brewhygiene.cellar.beers import actions as beer_actions
from brewhygiene.cellar.beers.forms import BeerForm, EditBeerForm
from brewhygiene.cellar.models import Beer
from brewhygiene.cellar.queries import beers_for_setup
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of


def beers(request: Request) -> HttpResponse:
    return render(request, "cellar/beers/beers.html", {"room": "setup", "beers": beers_for_setup()})


@permission_needed("edit_setup")
def beer_add(request: Request) -> HttpResponse:
    form = BeerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        beer = form.attempt(lambda: beer_actions.add_beer(by=actor_of(request), **form.values()))
        if beer is not None:
            messages.success(request, f"{beer} added.")
            return redirect("cellar:beers")
    context = {"room": "setup", "form": form}
    status = 422 if form.is_bound else 200
    return render(request, "cellar/beers/edit.html", context, status=status)


@permission_needed("edit_setup")
def beer_edit(request: Request, pk: int) -> HttpResponse:
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
    return render(request, "cellar/beers/edit.html", context, status=status)
