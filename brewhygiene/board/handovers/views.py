"""The handover: what is half done, a note, and what was handed over before."""

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from brewhygiene.board.handovers import actions
from brewhygiene.board.handovers.forms import HandoverForm
from brewhygiene.board.handovers.models import Handover
from brewhygiene.board.handovers.queries import half_done, handovers, unread
from brewhygiene.people.form_pages import button, page, submitted
from brewhygiene.people.forms import new_key
from brewhygiene.people.models import User
from brewhygiene.people.permissions import (
    WHAT_IT_TAKES,
    held_permissions,
    permission_needed,
)
from brewhygiene.people.requests import Request, sent


def handover(request: Request) -> HttpResponse:
    """To look at for everybody, to hand over for cellar hands."""
    held = held_permissions(request.user)
    if request.method == "POST" and "work_cellar" not in held:
        raise PermissionDenied(WHAT_IT_TAKES["work_cellar"])
    form = HandoverForm(sent(request))
    done = submitted(
        request,
        form,
        lambda by: actions.hand_over(by=by, note=form.cleaned_data["note"]),
        said="Handed over. The next shift sees it on the board.",
    )
    if done is not None:
        return redirect("board:handover")
    now = timezone.now()
    assert isinstance(request.user, User)
    new = unread(request.user, may=held.__contains__, now=now)
    return page(
        request,
        "board/handovers/handover.html",
        form=form,
        room="board",
        lines=half_done(now=now),
        earlier=[one for one in handovers() if one != new],
        read_key=new_key(),
        unread=new,
    )


@require_POST
@permission_needed("work_cellar")
def read(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Handover, pk=pk)
    return button(
        request,
        lambda by: actions.read_handover(by=by, handover=found),
        said="Read. It stays below.",
        to="board:handover",
    )
