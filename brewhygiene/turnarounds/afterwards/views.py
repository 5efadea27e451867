"""The way in for a clean that was done already."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.cache import never_cache

from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.turnarounds.afterwards import actions
from brewhygiene.turnarounds.afterwards.forms import EnterCleanForm
from brewhygiene.turnarounds.queries import (
    for_floor,
    regime_choices,
    running_clean,
    usual_gear,
)
from brewhygiene.turnarounds.steps.views import to_current_step


@never_cache
@permission_needed("work_cellar")
def enter_clean(request: Request, pk: int) -> HttpResponse:
    """Begin to enter a clean that was done while nobody could record it."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    proposal, others = regime_choices(turnaround)
    fitting = [choice.version.pk for choice in others if not choice.harm]
    if proposal.version is not None:
        fitting.append(proposal.version.pk)
    versions = (
        RegimeVersion.objects.filter(pk__in=fitting, regime__resanitises_only=False)
        .select_related("regime")
        .order_by("regime__sort_key")
    )
    form = EnterCleanForm(sent(request), versions=versions)
    form.offer(*usual_gear(turnaround.vessel))
    clean = submitted(
        request,
        form,
        lambda by: actions.enter_clean(
            by=by,
            turnaround=turnaround,
            version=form.cleaned_data["version"],
            started_at=form.cleaned_data["started_at"],
            reason=form.cleaned_data["entered_reason"],
            weaker_reason=form.cleaned_data["weaker_reason"],
            **form.gear(),
        ),
    )
    if clean is not None:
        return to_current_step(clean.pk)
    if request.method != "POST" and (running := running_clean(turnaround)) is not None:
        return redirect("turnarounds:clean", running.pk)
    return page(
        request, "turnarounds/afterwards/enter.html", form=form, room="board", turnaround=turnaround
    )
