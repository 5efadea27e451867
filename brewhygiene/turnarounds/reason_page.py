"""A floor page that asks for a reason and nothing else."""

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse

from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.requests import Request, sent
from brewhygiene.turnarounds.forms import ReasonForm


def reason_page(
    request: Request,
    template: str,
    *,
    label: str,
    act: Callable[..., Any],
    then: Callable[[], HttpResponse],
    **shown: Any,
) -> HttpResponse:
    """Ask for the reason under ``label``; ``act`` takes it with ``by``, then ``then`` answers."""
    form = ReasonForm(sent(request), label=label)
    done = submitted(request, form, lambda by: act(by=by, reason=form.cleaned_data["reason"]))
    if done is not None:
        return then()
    return page(request, template, form=form, room="board", **shown)
