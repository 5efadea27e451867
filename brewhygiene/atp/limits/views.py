"""Limits: proposed, approved with a signature, withdrawn; nothing of it disappears."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
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
)
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, sent
from brewhygiene.people.signatures import guard_password


def limits(request: Request) -> HttpResponse:
    standing = list(standing_limits())
    today = timezone.localdate()
    approved = [each for each in standing if each.approved_at is not None]
    context = {
        "room": "setup",
        "in_force": [each for each in approved if not each.run_out_on(today)],
        "run_out": [each for each in approved if each.run_out_on(today)],
        "due": due_sentences(approved, today=today),
        "waiting": [each for each in standing if each.approved_at is None],
        "past": past_limits(),
        "today": today,
    }
    return render(request, "atp/limits/limits.html", context)


@permission_needed("approve_limits")
def propose(request: Request) -> HttpResponse:
    asked = {name: request.GET[name] for name in ("meter", "atp_test") if name in request.GET}
    form = LimitsForm(sent(request), today=timezone.localdate(), initial=asked)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        proposed = form.attempt(
            lambda: limit_actions.propose_limits(
                by=actor_of(request),
                meter=given["meter"],
                atp_test=given["atp_test"],
                point=given["point"],
                alert_rlu=given["alert_rlu"],
                action_rlu=given["action_rlu"],
                source=given["source"],
                source_note=given["source_note"],
                review_on=given["review_on"],
                valid_until=given["valid_until"],
            )
        )
        if proposed is not None:
            messages.success(
                request, "Proposed. They judge nothing until they are approved: sign them below."
            )
            return redirect("atp:setup_approve_limits", proposed.pk)
    context = {"room": "setup", "form": form}
    return render(request, "atp/limits/propose.html", context, status=422 if form.is_bound else 200)


def _sign(
    request: Request,
    *,
    limits: LimitSet,
    verb: Callable[..., LimitSet],
    done: str,
    template: str,
    **more: Any,
) -> HttpResponse:
    form = SignForm(sent(request))
    if request.method == "POST" and form.is_valid():
        password = form.cleaned_data["password"]

        def signed() -> LimitSet:
            guard_password(request, password=password)
            return verb(by=actor_of(request), limits=limits, password=password)

        if form.attempt(signed) is not None:
            messages.success(request, done)
            return redirect("atp:setup_limits")
    context = {"room": "setup", "form": form, "limits": limits, **more}
    return render(request, template, context, status=422 if form.is_bound else 200)


@sensitive_post_parameters()
@permission_needed("approve_limits")
def approve(request: Request, pk: int) -> HttpResponse:
    limits = get_object_or_404(limits_by_pk(pk))
    return _sign(
        request,
        limits=limits,
        verb=limit_actions.approve_limits,
        done="Approved. They are in force from now on; earlier results keep their verdict.",
        template="atp/limits/approve.html",
        replaced=limits_replaced_by(limits),
    )


@sensitive_post_parameters()
@permission_needed("approve_limits")
def withdraw(request: Request, pk: int) -> HttpResponse:
    return _sign(
        request,
        limits=get_object_or_404(limits_by_pk(pk)),
        verb=limit_actions.withdraw_limits,
        done="Withdrawn. The set stays in the history.",
        template="atp/limits/withdraw.html",
    )
