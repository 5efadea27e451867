"""Set-up of the hold times of each kind of vessel."""

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.cellar.hold_times import actions
from brewhygiene.cellar.hold_times.forms import HoldTimesForm
from brewhygiene.cellar.hold_times.queries import stored_hold_times
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.permissions import WHAT_IT_TAKES, may
from brewhygiene.people.requests import Request


@sensitive_post_parameters()
def hold_times(request: Request) -> HttpResponse:
    """One table for all kinds of vessel: to read for everybody, to fill in for the permitted."""
    may_edit = may(request.user, "edit_setup")
    if request.method == "POST" and not may_edit:
        raise PermissionDenied(WHAT_IT_TAKES["edit_setup"])
    usual = "usual" in request.GET and may_edit
    form = HoldTimesForm(request.POST or None, stored=stored_hold_times(), usual=usual)
    if submitted(
        request,
        form,
        confirmed(
            request,
            form,
            lambda by, password: actions.set_hold_times(
                by=by, hold_times=form.changed(), password=password
            ),
        ),
        said="Hold times saved.",
    ):
        return redirect("cellar:hold_times")
    return page(
        request,
        "cellar/hold_times/hold_times.html",
        form=form,
        room="setup",
        source=actions.SOURCE,
        may_edit=may_edit,
        usual=usual,
    )
