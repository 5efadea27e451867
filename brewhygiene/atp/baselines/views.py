"""Baselines: chosen readings of clean vessels, studied, and limits proposed from them."""

from collections.abc import Callable

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
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
from brewhygiene.atp.limits.views import PROPOSED
from brewhygiene.atp.models.baselines import Baseline, BaselineExclusion
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


def baselines(request: Request) -> HttpResponse:
    return page(
        request, "atp/baselines/baselines.html", room="setup", baselines=baselines_to_list()
    )


@permission_needed("approve_limits")
def add(request: Request) -> HttpResponse:
    asked = {
        name: request.GET[name]
        for name in ("meter", "atp_test", "vessel_kind")
        if name in request.GET
    }
    form = BaselineForm(sent(request), today=timezone.localdate(), initial=asked)

    def create(by: Actor) -> Baseline:
        given = {k: v for k, v in form.cleaned_data.items() if k not in ("key", "client_time")}
        return baseline_actions.create_baseline(by=by, **given)

    if (made := submitted(request, form, create)) is not None:
        return redirect("atp:baseline", made.pk)
    return page(request, "atp/baselines/add.html", form=form, room="setup")


def baseline(request: Request, pk: int) -> HttpResponse:
    """The study, for anyone to look at: it depends on the address alone."""
    chosen = get_object_or_404(baseline_to_study(), pk=pk)
    asking = AskedForm(request.GET)
    study = study_of(chosen, asked=asking.asked(), now=timezone.now())
    return page(
        request,
        "atp/baselines/baseline.html",
        room="setup",
        asking=asking,
        **study_context(study, today=timezone.localdate()),
    )


def _with_reason(
    request: Request,
    pk: int,
    result_pk: int,
    action: Callable[..., BaselineExclusion],
    *,
    title: str,
    effect: str,
    said: str,
) -> HttpResponse:
    """Exclude or include one reading, with a reason."""
    chosen = get_object_or_404(baseline_to_study(), pk=pk)
    result = get_object_or_404(result_of_baseline(result_pk))
    form = ReasonForm(sent(request))

    def act(by: Actor) -> BaselineExclusion:
        reason = form.cleaned_data["reason"]
        return action(by=by, baseline=chosen, result=result, reason=reason)

    if submitted(request, form, act, said=said) is not None:
        return redirect("atp:baseline", pk)
    return page(
        request,
        "atp/baselines/exclusion.html",
        form=form,
        room="setup",
        baseline=chosen,
        result=result,
        title=title,
        effect=effect,
    )


@permission_needed("approve_limits")
def exclude(request: Request, pk: int, result_pk: int) -> HttpResponse:
    return _with_reason(
        request,
        pk,
        result_pk,
        baseline_actions.exclude_result,
        title="Exclude reading",
        effect="The reading and its verdict stay on record. Only this baseline leaves it out.",
        said="Reading excluded. The limits are recalculated.",
    )


@permission_needed("approve_limits")
def include(request: Request, pk: int, result_pk: int) -> HttpResponse:
    return _with_reason(
        request,
        pk,
        result_pk,
        baseline_actions.readmit_result,
        title="Include reading",
        effect="The reading counts again in this baseline. Its exclusion stays on record.",
        said="Reading included. Its exclusion stays on record.",
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
        raise Http404("No such method, or it gives no limits for this baseline.")
    form = ProposeFromBaselineForm(
        sent(request),
        today=timezone.localdate(),
        baseline=chosen,
        points=sorted({result.point_id for result in study.members.counted}),
        seen=(row.method.alert.rlu, row.method.action.rlu),
    )

    def act(by: Actor) -> LimitSet:
        given = form.cleaned_data
        return baseline_actions.propose_from_baseline(
            by=by,
            baseline=chosen,
            method=method,
            asked=asking.asked(),
            review_on=given["review_on"],
            valid_until=given["valid_until"],
            point=given["point"],
            seen=(given["alert_seen"], given["action_seen"]),
        )

    if (proposed := submitted(request, form, act, said=PROPOSED)) is not None:
        return redirect("atp:setup_approve_limits", proposed.pk)
    return page(
        request,
        "atp/baselines/propose.html",
        form=form,
        room="setup",
        study=study,
        row=row,
        back=f"{reverse('atp:baseline', args=[pk])}?{asking.address()}",
    )
