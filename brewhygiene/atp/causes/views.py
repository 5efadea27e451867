"""The screen on which a found cause is recorded."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.cache import never_cache

from brewhygiene.atp.causes.actions import record_found_cause
from brewhygiene.atp.causes.forms import FoundCauseForm
from brewhygiene.atp.causes.queries import found_causes, readings_over_a_limit
from brewhygiene.atp.models.causes import FoundCause
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.turnarounds.queries import for_floor


@never_cache
@permission_needed("work_cellar")
def cause(request: Request, pk: int) -> HttpResponse:
    """Record what was found behind a reading over a limit or a held vessel."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    readings = readings_over_a_limit(turnaround)
    asked = request.GET.get("result", "")
    first = next((r for r in readings if str(r.pk) == asked), readings[0] if readings else None)
    form = FoundCauseForm(sent(request), readings=readings, initial={"result": first})

    def record(by: Actor) -> FoundCause:
        given = {k: v for k, v in form.cleaned_data.items() if k not in ("key", "client_time")}
        return record_found_cause(by=by, turnaround=turnaround, **given)

    if submitted(request, form, record) is not None:
        return redirect("board:turnaround", turnaround.pk)
    return page(
        request,
        "atp/causes/cause.html",
        form=form,
        room="board",
        turnaround=turnaround,
        earlier=found_causes(turnaround),
    )
