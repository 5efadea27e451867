"""The screen on which a found cause is written down."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache

from brewhygiene.atp.causes.actions import record_found_cause
from brewhygiene.atp.causes.forms import FoundCauseForm
from brewhygiene.atp.causes.queries import found_causes, readings_over_a_limit
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, sent
from brewhygiene.turnarounds.queries import for_floor


@never_cache
@permission_needed("work_cellar")
def cause(request: Request, pk: int) -> HttpResponse:
    """Write down what was found behind a reading over a limit or a held vessel."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    readings = readings_over_a_limit(turnaround)
    asked = request.GET.get("result", "")
    first = next((r for r in readings if str(r.pk) == asked), readings[0] if readings else None)
    form = FoundCauseForm(sent(request), readings=readings, initial={"result": first})
    if request.method == "POST" and form.is_valid():
        found = form.attempt(
            lambda: record_found_cause(
                by=actor_of(request),
                turnaround=turnaround,
                cause=form.cleaned_data["cause"],
                result=form.cleaned_data.get("result"),
                note=form.cleaned_data["note"],
                found_at=form.cleaned_data["found_at"],
            )
        )
        if found is not None:
            return redirect("board:turnaround", turnaround.pk)
    context = {
        "room": "board",
        "turnaround": turnaround,
        "form": form,
        "earlier": found_causes(turnaround),
    }
    return render(request, "atp/causes/cause.html", context, status=422 if form.is_bound else 200)
