"""Set-up of beers."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.cellar.beers import actions
from brewhygiene.cellar.beers.forms import BeerForm, EditBeerForm
from brewhygiene.cellar.models import Beer
from brewhygiene.cellar.queries import beers_for_setup
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request
from brewhygiene.people.signatures import guard_password


def beers(request: Request) -> HttpResponse:
    return render(request, "cellar/beers/beers.html", {"room": "setup", "beers": beers_for_setup()})


@permission_needed("edit_setup")
def beer_add(request: Request) -> HttpResponse:
    form = BeerForm(request.POST or None)
    if submitted(
        request,
        form,
        lambda by: actions.add_beer(by=by, **form.given),
        said=lambda beer: f"{beer} added.",
    ):
        return redirect("cellar:beers")
    return page(request, "cellar/beers/edit.html", form=form, room="setup")


@sensitive_post_parameters("password")
@permission_needed("edit_setup")
def beer_edit(request: Request, pk: int) -> HttpResponse:
    beer = get_object_or_404(Beer, pk=pk)
    initial = {name: getattr(beer, name) for name in actions.KEPT}
    form = EditBeerForm(request.POST or None, initial=initial)

    def act(by: Actor) -> Beer:
        if form.given["password"]:
            guard_password(request, password=form.given["password"])
        return actions.edit_beer(by=by, beer=beer, **form.given)

    if submitted(request, form, act, said=lambda saved: f"{saved} saved."):
        return redirect("cellar:beers")
    return page(request, "cellar/beers/edit.html", form=form, room="setup", beer=beer)
