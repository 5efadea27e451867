"""The page that puts the vessels of a running brewery on record."""

from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request
from brewhygiene.people.signatures import guard_password
from brewhygiene.quantities.words import counted
from brewhygiene.release.starts.actions import put_on_record
from brewhygiene.release.starts.queries import starts_for_setup, vessels_not_on_record
from brewhygiene.setup.starts.forms import StartsForm
from brewhygiene.turnarounds.models.starts import Stood, VesselStart


@sensitive_post_parameters()
@never_cache
@permission_needed("edit_setup")
def starts(request: Request) -> HttpResponse:
    """All vessels in one list: what each contains, or that it is empty or released on paper."""
    form = StartsForm(
        request.POST if request.method == "POST" else None,
        vessels=vessels_not_on_record(),
        brewery=request.brewery,
    )

    def put(by: Actor) -> VesselStart:
        vessels, password = form.chosen(), form.cleaned_data["password"]
        if any(stands.stood == Stood.RELEASED for stands in vessels):
            guard_password(request, password=password)
        return put_on_record(by=by, vessels=vessels, password=password)

    said = f"{counted(len(form.chosen()), 'vessel')} put on record." if form.is_valid() else ""
    if submitted(request, form, put, said=said):
        return redirect("setup:starts")
    return page(
        request, "setup/starts/starts.html", form=form, room="setup", starts=starts_for_setup()
    )
