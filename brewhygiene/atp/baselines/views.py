"""Baselines: chosen readings of clean vessels, studied, and limits proposed from them."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.baselines import actions as baseline_actions
from brewhygiene.atp.baselines.forms import (
    AskedForm,
    BaselineForm,
    ProposeFromBaselineForm,
    ReasonForm,
)
from brewhygiene.atp.baselines.page import study_context
from brewhygiene.atp.baselines.queries import (
    baseline_to_study,
    baselines_to_list,
    result_of_baseline,
)
from brewhygiene.atp.baselines.study import study_of
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, sent


def baselines(request: Request) -> HttpResponse:
    return render(
        request, "atp/baselines/baselines.html", {"room": "setup", "baselines": baselines_to_list()}
    )


@permission_needed("approve_limits")
def add(request: Request) -> HttpResponse:
    asked = {name: request.GET[name] for name in ("meter", "atp_test") if name in request.GET}
    form = BaselineForm(sent(request), today=timezone.localdate(), initial=asked)
    if request.method == "POST" and form.is_valid():
        given = {k: v for k, v in form.cleaned_data.items() if k not in ("key", "client_time")}
        made = form.attempt(lambda: baseline_actions.create_baseline(by=actor_of(request), **given))
        if made is not None:
            return redirect("atp:baseline", made.pk)
    context = {"room": "setup", "form": form}
    return render(request, "atp/baselines/add.html", context, status=422 if form.is_bound else 200)


def baseline(request: Request, pk: int) -> HttpResponse:
    """The study, for anyone to look at: what it says depends on the address alone."""
    chosen = get_object_or_404(baseline_to_study(), pk=pk)
    asking = AskedForm(request.GET)
    study = study_of(chosen, asked=asking.asked(), now=timezone.now())
    context = {
        "room": "setup",
        "asking": asking,
        **study_context(study, today=timezone.localdate()),
    }
    return render(request, "atp/baselines/baseline.html", context)


def _move(
    request: Request,
    *,
    pk: int,
    result_pk: int,
    verb: Callable[..., Any],
    done: str,
    template: str,
) -> HttpResponse:
    chosen = get_object_or_404(baseline_to_study(), pk=pk)
    result = get_object_or_404(result_of_baseline(result_pk))
    form = ReasonForm(sent(request))
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data["reason"]
        moved = form.attempt(
            lambda: verb(by=actor_of(request), baseline=chosen, result=result, reason=reason)
        )
        if moved is not None:
            messages.success(request, done)
            return redirect("atp:baseline", pk)
    context = {"room": "setup", "form": form, "baseline": chosen, "result": result}
    return render(request, template, context, status=422 if form.is_bound else 200)


@permission_needed("approve_limits")
def exclude(request: Request, pk: int, result_pk: int) -> HttpResponse:
    return _move(
        request,
        pk=pk,
        result_pk=result_pk,
        verb=baseline_actions.exclude_result,
        done="Kept out. The limits below are worked out without it.",
        template="atp/baselines/exclude.html",
    )


@permission_needed("approve_limits")
def readmit(request: Request, pk: int, result_pk: int) -> HttpResponse:
    return _move(
        request,
        pk=pk,
        result_pk=result_pk,
        verb=baseline_actions.readmit_result,
        done="Taken back. That it was kept out, and why, stays on record.",
        template="atp/baselines/readmit.html",
    )


@permission_needed("approve_limits")
def propose(request: Request, pk: int) -> HttpResponse:
    """Limits of the method and the coverages that the address names."""
    chosen = get_object_or_404(baseline_to_study(), pk=pk)
    asking = AskedForm(request.GET)
    method = request.GET.get("method", "")
    study = study_of(chosen, asked=asking.asked(), now=timezone.now())
    row = next((row for row in study.rows if row.method.code == method), None)
    if row is None or row.method.alert is None or row.method.action is None:
        raise Http404("No such method, or it makes no limits of this baseline.")
    form = ProposeFromBaselineForm(
        sent(request),
        today=timezone.localdate(),
        baseline=chosen,
        points=sorted({result.point_id for result in study.members.counted}),
        seen=(row.method.alert.rlu, row.method.action.rlu),
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        proposed = form.attempt(
            lambda: baseline_actions.propose_from_baseline(
                by=actor_of(request),
                baseline=chosen,
                method=method,
                asked=asking.asked(),
                review_on=given["review_on"],
                valid_until=given["valid_until"],
                point=given["point"],
                seen=(given["alert_seen"], given["action_seen"]),
            )
        )
        if proposed is not None:
            messages.success(
                request, "Proposed. They judge nothing until they are approved: sign them below."
            )
            return redirect("atp:setup_approve_limits", proposed.pk)
    context = {
        "room": "setup",
        "form": form,
        "study": study,
        "row": row,
        "back": f"{reverse('atp:baseline', args=[pk])}?{asking.address()}",
    }
    return render(
        request, "atp/baselines/propose.html", context, status=422 if form.is_bound else 200
    )
