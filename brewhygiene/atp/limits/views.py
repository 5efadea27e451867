"""Limits: proposed, approved with a signature, retired. All of them stay in the history."""

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.atp.limits import actions as limit_actions
from brewhygiene.atp.limits.days import due_sentences
from brewhygiene.atp.limits.forms import LimitsForm, SignForm
from brewhygiene.atp.limits.queries import (
    limits_by_pk,
    limits_replaced_by,
    past_limits,
    standing_limits,
    why_not_own_proposal,
)
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.people.signatures import guard_password

PROPOSED = "Limits proposed. They apply once they are approved: sign below."


def limits(request: Request) -> HttpResponse:
    standing = list(standing_limits())
    today = timezone.localdate()
    approved = [each for each in standing if each.approved_at is not None]
    return page(
        request,
        "atp/limits/limits.html",
        room="setup",
        in_force=[each for each in approved if not each.run_out_on(today)],
        out_of_date=[each for each in approved if each.run_out_on(today)],
        due=due_sentences(approved, today=today),
        waiting=[each for each in standing if each.approved_at is None],
        past=past_limits(),
        today=today,
    )


@permission_needed("approve_limits")
def propose(request: Request) -> HttpResponse:
    asked = {name: request.GET[name] for name in ("meter", "atp_test") if name in request.GET}
    form = LimitsForm(sent(request), today=timezone.localdate(), initial=asked)

    def act(by: Actor) -> LimitSet:
        given = {k: v for k, v in form.cleaned_data.items() if k not in ("key", "client_time")}
        return limit_actions.propose_limits(by=by, **given)

    if (proposed := submitted(request, form, act, said=PROPOSED)) is not None:
        return redirect("atp:setup_approve_limits", proposed.pk)
    return page(request, "atp/limits/propose.html", form=form, room="setup")


def _sign(
    request: Request,
    template: str,
    limits: LimitSet,
    action: Callable[..., LimitSet],
    *,
    said: str,
    **more: Any,
) -> HttpResponse:
    form = SignForm(sent(request))

    def act(by: Actor) -> LimitSet:
        password = form.cleaned_data["password"]
        guard_password(request, password=password)
        return action(by=by, limits=limits, password=password)

    if submitted(request, form, act, said=said) is not None:
        return redirect("atp:setup_limits")
    return page(request, template, form=form, room="setup", limits=limits, **more)


@sensitive_post_parameters()
@permission_needed("approve_limits")
def approve(request: Request, pk: int) -> HttpResponse:
    limits = get_object_or_404(limits_by_pk(pk))
    return _sign(
        request,
        "atp/limits/approve.html",
        limits,
        limit_actions.approve_limits,
        said="Limits approved. Earlier readings keep their verdict.",
        replaced=limits_replaced_by(limits),
        own_proposal=why_not_own_proposal(limits, user=request.user),  # type: ignore[arg-type]
    )


@sensitive_post_parameters()
@permission_needed("approve_limits")
def retire(request: Request, pk: int) -> HttpResponse:
    return _sign(
        request,
        "atp/limits/retire.html",
        get_object_or_404(limits_by_pk(pk)),
        limit_actions.retire_limits,
        said="Limits retired. They stay in the history.",
    )
