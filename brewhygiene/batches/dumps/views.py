"""Dump what a vessel contains."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from brewhygiene.batches.brews.queries import left_in
from brewhygiene.batches.dumps import actions
from brewhygiene.batches.dumps.forms import DumpForm
from brewhygiene.batches.models.dumps import Dump
from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


@permission_needed("work_cellar")
def dump(request: Request, pk: int) -> HttpResponse:
    """Dump beer or yeast from a vessel, all of it or a part."""
    vessel = get_object_or_404(Vessel, pk=pk)
    fill = vessel.fills.filter(emptying__isnull=True).first()
    form = DumpForm(sent(request), brewery=request.brewery, vessel=vessel)

    def act(by: Actor) -> Dump:
        given = form.given
        given["dumped_at"] = given["dumped_at"] or by.now
        return actions.dump(by=by, vessel=vessel, **given)

    if submitted(request, form, act, said=f"Dump from {vessel.name} is recorded."):
        return redirect("board:vessel", vessel.pk)
    return page(
        request,
        "batches/forms/dump.html",
        form=form,
        room="board",
        vessel=vessel,
        fill=fill,
        left=left_in(fill) if fill is not None else None,
    )
