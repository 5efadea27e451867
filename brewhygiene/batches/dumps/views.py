"""Dump what a vessel contains."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.batches.brews.queries import left_in
from brewhygiene.batches.dumps import actions
from brewhygiene.batches.dumps.forms import DumpForm
from brewhygiene.batches.models.dumps import Dump
from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


@sensitive_post_parameters("password")
@permission_needed("work_cellar")
def dump(request: Request, pk: int) -> HttpResponse:
    """Dump beer or yeast from a vessel, all of it or a part, signed."""
    vessel = get_object_or_404(Vessel, pk=pk)
    fill = vessel.fills.filter(emptying__isnull=True).first()
    form = DumpForm(sent(request), brewery=request.brewery, vessel=vessel)

    def act(by: Actor, password: str) -> Dump:
        given = form.given
        del given["password"]
        given["dumped_at"] = given["dumped_at"] or by.now
        return actions.dump(by=by, vessel=vessel, password=password, **given)

    done = submitted(
        request,
        form,
        confirmed(request, form, act),
        said=f"Dump from {vessel.name} is signed.",
    )
    if done is not None:
        return redirect("board:vessel", vessel.pk)
    return page(
        request,
        "batches/forms/dump.html",
        form=form,
        room="board",
        vessel=vessel,
        fill=fill,
        left=left_in(fill) if fill is not None else None,
        held=actions.hold_before_dump(vessel),
    )
