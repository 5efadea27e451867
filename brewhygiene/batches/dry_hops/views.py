"""Record a dry hop."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from brewhygiene.batches.dry_hops import actions
from brewhygiene.batches.dry_hops.forms import DryHopForm
from brewhygiene.batches.models.movements import Movement
from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


@permission_needed("work_cellar")
def dry_hop(request: Request, pk: int) -> HttpResponse:
    """Hops into what a vessel contains."""
    vessel = get_object_or_404(Vessel, pk=pk)
    form = DryHopForm(sent(request), brewery=request.brewery)

    def act(by: Actor) -> Movement:
        given = form.cleaned_data
        return actions.dry_hop(
            by=by,
            vessel=vessel,
            hops=given["hops"],
            hopped_at=given["hopped_at"] or by.now,
            through=tuple(given["through"]),
        )

    if submitted(request, form, act, said=f"Dry hop of {vessel.name} is recorded."):
        return redirect("board:vessel", vessel.pk)
    return page(
        request,
        "batches/forms/of_vessel.html",
        form=form,
        room="board",
        vessel=vessel,
        title=f"Dry hop of {vessel.name}",
        here="Dry hop",
        do="Record dry hop",
    )
