"""Set-up of the hold times of each kind of vessel."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect, render

from brewhygiene.cellar.hold_times import actions as clock_actions
from brewhygiene.cellar.hold_times.forms import ClocksForm
from brewhygiene.cellar.hold_times.queries import stored_clocks
from brewhygiene.people.permissions import WHAT_IT_TAKES, may
from brewhygiene.people.requests import Request, actor_of


def clocks(request: Request) -> HttpResponse:
    """One table for all kinds of vessel: to read for everybody, to fill in for the permitted."""
    may_edit = may(request.user, "edit_setup")
    if request.method == "POST" and not may_edit:
        raise PermissionDenied(WHAT_IT_TAKES["edit_setup"])
    form = ClocksForm(request.POST or None, stored=stored_clocks())
    if request.method == "POST" and form.is_valid():
        changed = form.changed_clocks()
        saved = form.attempt(
            lambda: clock_actions.set_hold_clocks(by=actor_of(request), clocks=changed)
        )
        if saved is not None:
            messages.success(request, "Saved. The clocks run on the board from now on.")
            return redirect("cellar:clocks")
    context = {
        "room": "setup",
        "form": form,
        "source": clock_actions.SOURCE,
        "may_edit": may_edit,
    }
    status = 422 if form.is_bound else 200
    return render(request, "cellar/hold_times/hold_times.html", context, status=status)
