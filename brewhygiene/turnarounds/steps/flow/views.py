"""The flow of the running step is lost, or back."""

from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from brewhygiene.people.form_pages import submitted
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request
from brewhygiene.turnarounds.steps.flow import actions as flow_actions
from brewhygiene.turnarounds.steps.views import screen_of, show


@require_POST
@permission_needed("work_cellar")
def flow(request: Request, pk: int, step_pk: int, act: str) -> HttpResponse:
    """The flow of the running step is lost, or back: one tap each."""
    screen = screen_of(request, pk, step_pk)
    record = screen.item.record
    if record is None:
        return redirect("turnarounds:step", pk, step_pk)
    form = ActionForm(request.POST, auto_id="flow_%s")
    acts = {"lost": flow_actions.lose_flow, "back": flow_actions.regain_flow}
    done = submitted(request, form, lambda by: acts[act](by=by, record=record))
    if done is not None:
        return redirect("turnarounds:step", pk, step_pk)
    return show(request, screen, flow_form=form, status=422)
