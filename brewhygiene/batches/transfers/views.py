"""Transfer beer from a vessel into another."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from brewhygiene.batches.brews.queries import vessels_with_batch
from brewhygiene.batches.transfers import actions
from brewhygiene.batches.transfers.forms import TransferForm
from brewhygiene.batches.transfers.queries import tanks_with_status
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


@permission_needed("fill_vessel")
def transfer(request: Request, pk: int) -> HttpResponse:
    """Transfer what a vessel contains; only a released vessel takes it."""
    vessel = get_object_or_404(Vessel, pk=pk)
    targets, notes = tanks_with_status(timezone.now())
    form = TransferForm(
        sent(request),
        brewery=request.brewery,
        vessel=vessel,
        targets=targets,
        notes=notes,
        others=vessels_with_batch().exclude(pk=vessel.pk),
    )

    def act(by: Actor) -> Fill:
        given = form.cleaned_data
        return actions.transfer(
            by=by,
            sources=form.sources(),
            to_vessel=given["to_vessel"],
            moved_at=given["moved_at"] or by.now,
            through=given["through"],
            batch=given["batch"],
        )

    fill = submitted(
        request, form, act, said=lambda f: f"{f.vessel.name} is filled from {vessel.name}."
    )
    if fill is not None:
        return redirect("board:vessel", fill.vessel_id)
    return page(
        request,
        "batches/forms/of_vessel.html",
        form=form,
        room="board",
        vessel=vessel,
        title=f"Transfer from {vessel.name}",
        here="Transfer",
        do="Record transfer",
    )
