"""Closing a positive plate."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.people.signatures import guard_password
from brewhygiene.plates.closing.actions import resolve_plate
from brewhygiene.plates.closing.forms import CloseForm
from brewhygiene.plates.models import Plate
from brewhygiene.plates.queries import plates_for_pages
from brewhygiene.plates.views import about


@sensitive_post_parameters("password")
@permission_needed("decide_release")
def resolve(request: Request, pk: int) -> HttpResponse:
    """Close a positive plate, signed."""
    found = get_object_or_404(plates_for_pages(), pk=pk)
    form = CloseForm(sent(request), plate=found)

    def act(by: Actor) -> Plate:
        guard_password(request, password=form.cleaned_data["password"])
        return resolve_plate(by=by, plate=found, **form.given)

    said = f"Plate closed. It no longer holds {found.vessel.name}."
    if submitted(request, form, act, said=said) is not None:
        return redirect("plates:plate", found.pk)
    return page(request, "plates/close.html", form=form, **about(found))
