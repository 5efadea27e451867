"""Bridge studies: two scales read at the same places, and what may be carried from one to the
other. For anyone to look at; pairs are added by the cellar, the rest is the head brewer's."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from brewhygiene.atp.bridges import actions as bridge_actions
from brewhygiene.atp.bridges.figures import difference_figure, scale_names, scatter_figure
from brewhygiene.atp.bridges.forms import (
    BridgedLimitsForm,
    LeaveOutForm,
    OpenBridgeForm,
    PairForm,
    PasteForm,
)
from brewhygiene.atp.bridges.queries import (
    bridges_listed,
    latest_pairs,
    limits_from,
    limits_to_carry,
    named_bridges,
    points_for,
    sort_pairs,
    study_for,
)
from brewhygiene.atp.bridges.study import study_of
from brewhygiene.atp.limits.forms import SignForm
from brewhygiene.atp.models.bridges import Bridge, BridgePair
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, sent
from brewhygiene.people.signatures import guard_password
from brewhygiene.science.agreement.bridging import GOOD_PAIRS, LEAST_PAIRS

REVIEW_AFTER = timedelta(days=91)


def _bridge(pk: int) -> Bridge:
    bridge: Bridge = get_object_or_404(named_bridges(), pk=pk)
    return bridge


def _answer(request: Request, template: str, form: Any, **context: Any) -> HttpResponse:
    context |= {"room": "setup", "form": form}
    return render(request, f"atp/bridges/{template}", context, status=422 if form.is_bound else 200)


@never_cache
def bridges(request: Request) -> HttpResponse:
    context = {"room": "setup", "bridges": list(bridges_listed()), "least": LEAST_PAIRS}
    return render(request, "atp/bridges/bridges.html", context)


@permission_needed("approve_limits")
def open_bridge(request: Request) -> HttpResponse:
    names = ("reference_meter", "reference_atp_test", "new_meter", "new_atp_test")
    asked = {name: request.GET[name] for name in names if name in request.GET}
    there = study_for(
        meter_pk=asked.get("new_meter", ""), atp_test_pk=asked.get("new_atp_test", "")
    )
    if request.method == "GET" and there is not None:
        return redirect("atp:bridge", there.pk)
    form = OpenBridgeForm(sent(request), initial=asked)
    if request.method == "POST" and form.is_valid():
        given = {name: form.cleaned_data[name] for name in names}
        opened = form.attempt(lambda: bridge_actions.open_bridge(by=actor_of(request), **given))
        if opened is not None:
            messages.success(request, "The study is open. Now read the same places with both.")
            return redirect("atp:bridge", opened.pk)
    return _answer(request, "open.html", form)


@never_cache
def bridge(request: Request, pk: int) -> HttpResponse:
    """The study: its pairs, its pictures, the methods side by side, and the limits carried."""
    found = _bridge(pk)
    limits = limits_to_carry(found, today=timezone.localdate())
    study = study_of(sort_pairs(found), limits)
    first, second = scale_names(found)
    context = {
        "room": "setup",
        "bridge": found,
        "study": study,
        "first": first,
        "second": second,
        "scatter": scatter_figure(found, study),
        "differences": difference_figure(found, study),
        "carry_from": limits,
        "made": limits_from(found),
        "changeable": found.approved_at is None and found.retired_at is None,
        "good": GOOD_PAIRS,
        "take_in_form": ActionForm(auto_id=False),
    }
    return render(request, "atp/bridges/bridge.html", context)


@never_cache
@permission_needed("work_cellar")
def add_pair(request: Request, pk: int) -> HttpResponse:
    """One place read with both, on the tablet."""
    found = _bridge(pk)
    form = PairForm(sent(request), bridge=found, points=points_for(found))
    if request.method == "POST" and form.is_valid():
        pair = form.attempt(
            lambda: bridge_actions.add_pair(
                by=actor_of(request), bridge=found, values=form.values()
            )
        )
        if pair is not None:
            if pair.reference_rlu is None or pair.new_rlu is None:
                messages.warning(request, "Kept, but not used: a side is missing.")
            else:
                messages.success(request, f"Added: {pair}. The next place?")
            return redirect("atp:add_bridge_pair", found.pk)
    first, second = scale_names(found)
    return _answer(
        request,
        "pair.html",
        form,
        bridge=found,
        first=first,
        second=second,
        latest=latest_pairs(found),
    )


@permission_needed("work_cellar")
def paste_pairs(request: Request, pk: int) -> HttpResponse:
    """Many pairs as two columns: all of them, or none and what is wrong with each line."""
    found = _bridge(pk)
    form = PasteForm(sent(request))
    if request.method == "POST" and form.is_valid():
        rows = form.cleaned_data["pairs"]
        added = form.attempt(
            lambda: bridge_actions.add_pairs(
                by=actor_of(request),
                bridge=found,
                rows=rows,
                taken_at=form.cleaned_data["taken_at"],
            )
        )
        if added is not None:
            messages.success(request, f"{len(rows)} pair{'' if len(rows) == 1 else 's'} added.")
            return redirect("atp:bridge", found.pk)
    first, second = scale_names(found)
    return _answer(request, "paste.html", form, bridge=found, first=first, second=second)


def _pair(pk: int, pair_pk: int) -> BridgePair:
    pair: BridgePair = get_object_or_404(
        BridgePair.objects.select_related("point__vessel"), pk=pair_pk, bridge=pk
    )
    return pair


@permission_needed("approve_limits")
def leave_out_pair(request: Request, pk: int, pair_pk: int) -> HttpResponse:
    found, pair = _bridge(pk), _pair(pk, pair_pk)
    form = LeaveOutForm(sent(request))
    if request.method == "POST" and form.is_valid():
        left = form.attempt(
            lambda: bridge_actions.leave_out_pair(
                by=actor_of(request), pair=pair, reason=form.cleaned_data["reason"]
            )
        )
        if left is not None:
            messages.success(request, f"Left out: {pair}. It stays in the study.")
            return redirect("atp:bridge", found.pk)
    return _answer(request, "leave_out.html", form, bridge=found, pair=pair)


@require_POST
@permission_needed("approve_limits")
def take_in_pair(request: Request, pk: int, pair_pk: int) -> HttpResponse:
    pair = _pair(pk, pair_pk)
    form = ActionForm(request.POST)
    if form.is_valid():
        taken = form.attempt(lambda: bridge_actions.take_in_pair(by=actor_of(request), pair=pair))
        if taken is not None:
            messages.success(request, f"Taken in again: {pair}.")
    for error in form.non_field_errors():
        messages.error(request, str(error))
    return redirect("atp:bridge", pk)


@permission_needed("approve_limits")
def propose(request: Request, pk: int, limits_pk: int) -> HttpResponse:
    """One set of the reference scale's limits, carried over and proposed."""
    found = _bridge(pk)
    today = timezone.localdate()
    every = limits_to_carry(found, today=today)
    limits = next((one for one in every if one.pk == limits_pk), None)
    if limits is None:
        raise Http404("Those limits are not in force on the reference scale.")
    study = study_of(sort_pairs(found), [limits])
    carried = study.carried[0] if study.carried else None
    if carried is None or carried.found is None:
        messages.error(request, carried.why_not if carried else study.why_not)
        return redirect("atp:bridge", found.pk)
    alert, action = carried.found.alert, carried.found.action
    form = BridgedLimitsForm(
        sent(request),
        review_on=today + REVIEW_AFTER,
        line=f"the line: alert {alert.whole_rlu}, action {action.whole_rlu} RLU",
        careful="the careful end of the intervals: alert "
        f"{alert.careful_rlu}, action {action.careful_rlu} RLU",
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        proposed = form.attempt(
            lambda: bridge_actions.propose_bridged_limits(
                by=actor_of(request),
                bridge=found,
                reference_limits=limits,
                choice=given["choice"],
                review_on=given["review_on"],
                valid_until=given["valid_until"],
            )
        )
        if proposed is not None:
            messages.success(
                request, "Proposed. They judge nothing until they are approved: sign them below."
            )
            return redirect("atp:setup_approve_limits", proposed.pk)
    first, second = scale_names(found)
    return _answer(
        request,
        "propose.html",
        form,
        bridge=found,
        study=study,
        carried=carried,
        first=first,
        second=second,
    )


def _sign(
    request: Request,
    pk: int,
    *,
    verb: Callable[..., Bridge],
    done: str,
    template: str,
) -> HttpResponse:
    found = _bridge(pk)
    form = SignForm(sent(request))
    if request.method == "POST" and form.is_valid():
        password = form.cleaned_data["password"]

        def signed() -> Bridge:
            guard_password(request, password=password)
            return verb(by=actor_of(request), bridge=found, password=password)

        if form.attempt(signed) is not None:
            messages.success(request, done)
            return redirect("atp:bridge", found.pk)
    first, second = scale_names(found)
    return _answer(
        request,
        template,
        form,
        bridge=found,
        study=study_of(sort_pairs(found), []),
        first=first,
        second=second,
    )


@sensitive_post_parameters()
@permission_needed("approve_limits")
def approve(request: Request, pk: int) -> HttpResponse:
    return _sign(
        request,
        pk,
        verb=bridge_actions.approve_bridge,
        done="Approved. It sets no limits by itself.",
        template="approve.html",
    )


@sensitive_post_parameters()
@permission_needed("approve_limits")
def retire(request: Request, pk: int) -> HttpResponse:
    return _sign(
        request,
        pk,
        verb=bridge_actions.retire_bridge,
        done="Retired. Its pairs and the limits that came of it stay as they are.",
        template="retire.html",
    )
