"""Screens of a permit to enter a vessel."""

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.permissions import WHAT_IT_TAKES, may, permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.regimes.cautions import DEFERENCE
from brewhygiene.turnarounds.entry import actions
from brewhygiene.turnarounds.entry.forms import CloseForm, PermitForm
from brewhygiene.turnarounds.entry.gas import GAS_LIMITS
from brewhygiene.turnarounds.models.entries import EntryPermit
from brewhygiene.turnarounds.queries import for_floor, open_permit


@never_cache
@sensitive_post_parameters()
@permission_needed("work_cellar")
def permit(request: Request, pk: int) -> HttpResponse:
    """Permit entry into an emptied vessel; to the open permit, where there is one."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    if request.method != "POST" and (running := open_permit(turnaround)) is not None:
        return redirect("turnarounds:entry", running.pk)
    if not may(request.user, "decide_release"):
        raise PermissionDenied(WHAT_IT_TAKES["decide_release"])
    form = PermitForm(sent(request))
    act = confirmed(
        request,
        form,
        lambda by, password: actions.permit_entry(
            by=by, turnaround=turnaround, password=password, **form.given
        ),
    )
    given = submitted(request, form, act, said="Entry permitted. The vessel is locked.")
    if given is not None:
        return redirect("turnarounds:entry", given.pk)
    return page(
        request,
        "turnarounds/entry/permit.html",
        form=form,
        room="board",
        turnaround=turnaround,
        limits=GAS_LIMITS,
        deference=DEFERENCE,
    )


@never_cache
def entry(request: Request, pk: int) -> HttpResponse:
    """A permit, for anyone to look at; whoever works in the cellar closes it out."""
    shown = get_object_or_404(
        EntryPermit.objects.select_related(
            "turnaround__vessel", "signature", "closed_by", "turnaround__emptying"
        ),
        pk=pk,
    )
    form = None
    if shown.closed_at is None:
        form = CloseForm(sent(request))
        closed = submitted(
            request,
            form,
            lambda by: actions.close_permit(by=by, permit=shown, **form.given),
            said="Entry permit closed out.",
        )
        if closed is not None:
            return redirect("turnarounds:entry", pk)
    return page(request, "turnarounds/entry/entry.html", form=form, room="board", permit=shown)
