"""The page on which a running clean changes its skid or its hose."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.cache import never_cache

from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.skids.queries import skids_in_use
from brewhygiene.turnarounds.circuits import actions
from brewhygiene.turnarounds.forms import GearForm
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.steps.views import to_current_step


@never_cache
@permission_needed("work_cellar")
def change_gear(request: Request, pk: int) -> HttpResponse:
    """Choose what the steps to come run on."""
    running = get_object_or_404(cleans_with_records(), pk=pk)
    if request.method != "POST" and not running.running:
        return to_current_step(pk)
    form = GearForm(sent(request))
    offered = list(skids_in_use())
    form.offer(offered, running.skid, running.hose)
    changed = submitted(
        request, form, lambda by: actions.change_gear(by=by, clean=running, **form.gear())
    )
    if changed is not None:
        return to_current_step(pk)
    return page(
        request,
        "turnarounds/circuits/change.html",
        form=form,
        room="board",
        clean=running,
        offered=offered,
    )
