"""Bridge studies: two scales read at the same places, and limits converted from one to the other.

Anyone may look. The cellar adds pairs, the head brewer does the rest.
"""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from brewhygiene.atp.bridges import actions as bridge_actions
from brewhygiene.atp.bridges.figures import difference_figure, scale_names, scatter_figure
from brewhygiene.atp.bridges.forms import (
    BridgedLimitsForm,
    ExcludePairForm,
    OpenBridgeForm,
    PairForm,
    PasteForm,
)
from brewhygiene.atp.bridges.queries import (
    bridges_listed,
    latest_pairs,
    limits_from,
    limits_to_convert,
    named_bridges,
    points_for,
    sort_pairs,
    study_for,
)
from brewhygiene.atp.bridges.study import study_of
from brewhygiene.atp.limits.forms import SignForm
from brewhygiene.atp.limits.views import PROPOSED
from brewhygiene.atp.models.bridges import Bridge, BridgePair
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import button, page, submitted
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.people.signatures import guard_password
from brewhygiene.quantities.words import counted
from brewhygiene.science.agreement.bridging import GOOD_PAIRS, LEAST_PAIRS

REVIEW_AFTER = timedelta(days=91)
SCALES = ("reference_meter", "reference_atp_test", "new_meter", "new_atp_test")


def _bridge(pk: int) -> Bridge:
    bridge: Bridge = get_object_or_404(named_bridges(), pk=pk)
    return bridge


def _page(
    request: Request, template: str, bridge: Bridge, form: ActionForm | None = None, **context: Any
) -> HttpResponse:
    """A page of one study, which names its two scales."""
    first, second = scale_names(bridge)
    return page(
        request,
        f"atp/bridges/{template}",
        form=form,
        room="setup",
        bridge=bridge,
        first=first,
        second=second,
        **context,
    )


@never_cache
def bridges(request: Request) -> HttpResponse:
    return page(
        request,
        "atp/bridges/bridges.html",
        room="setup",
        bridges=list(bridges_listed()),
        minimum=LEAST_PAIRS,
    )


@permission_needed("approve_limits")
def open_bridge(request: Request) -> HttpResponse:
    asked = {name: request.GET[name] for name in SCALES if name in request.GET}
    there = study_for(
        meter_pk=asked.get("new_meter", ""), atp_test_pk=asked.get("new_atp_test", "")
    )
    if request.method == "GET" and there is not None:
        return redirect("atp:bridge", there.pk)
    form = OpenBridgeForm(sent(request), initial=asked)
    opened = submitted(
        request,
        form,
        lambda by: bridge_actions.open_bridge(
            by=by, **{name: form.cleaned_data[name] for name in SCALES}
        ),
        said="Bridge study started. Read the same places with both scales.",
    )
    if opened is not None:
        return redirect("atp:bridge", opened.pk)
    return page(request, "atp/bridges/open.html", form=form, room="setup")


@never_cache
def bridge(request: Request, pk: int) -> HttpResponse:
    """The study: its pairs, its figures, the methods side by side, and the converted limits."""
    found = _bridge(pk)
    limits = limits_to_convert(found, today=timezone.localdate())
    study = study_of(sort_pairs(found), limits)
    return _page(
        request,
        "bridge.html",
        found,
        study=study,
        scatter=scatter_figure(found, study),
        differences=difference_figure(found, study),
        made=limits_from(found),
        changeable=found.approved_at is None and found.retired_at is None,
        good=GOOD_PAIRS,
        include_form=ActionForm(auto_id=False),
    )


@never_cache
@permission_needed("work_cellar")
def add_pair(request: Request, pk: int) -> HttpResponse:
    """One place read with both, on the tablet."""
    found = _bridge(pk)
    form = PairForm(sent(request), bridge=found, points=points_for(found))
    pair = submitted(
        request,
        form,
        lambda by: bridge_actions.add_pair(by=by, bridge=found, values=form.values()),
    )
    if pair is None:
        return _page(request, "pair.html", found, form, latest=latest_pairs(found))
    if pair.reference_rlu is None or pair.new_rlu is None:
        messages.warning(request, "Pair recorded but not used: one reading is missing.")
    else:
        messages.success(request, f"Pair recorded: {pair}.")
    return redirect("atp:add_bridge_pair", found.pk)


@permission_needed("work_cellar")
def paste_pairs(request: Request, pk: int) -> HttpResponse:
    """Many pairs as two columns: all of them, or none with an error for each bad line."""
    found = _bridge(pk)
    form = PasteForm(sent(request))

    def add(by: Actor) -> Bridge:
        given = form.cleaned_data
        return bridge_actions.add_pairs(
            by=by, bridge=found, rows=given["pairs"], taken_at=given["taken_at"]
        )

    def said(_: Bridge) -> str:
        return f"{counted(len(form.cleaned_data['pairs']), 'pair')} added."

    if submitted(request, form, add, said=said) is not None:
        return redirect("atp:bridge", found.pk)
    return _page(request, "paste.html", found, form)


def _pair(pk: int, pair_pk: int) -> BridgePair:
    pair: BridgePair = get_object_or_404(
        BridgePair.objects.select_related("point__vessel"), pk=pair_pk, bridge=pk
    )
    return pair


@permission_needed("approve_limits")
def exclude_pair(request: Request, pk: int, pair_pk: int) -> HttpResponse:
    found, pair = _bridge(pk), _pair(pk, pair_pk)
    form = ExcludePairForm(sent(request))
    excluded = submitted(
        request,
        form,
        lambda by: bridge_actions.exclude_pair(
            by=by, pair=pair, reason=form.cleaned_data["reason"]
        ),
        said=f"Pair excluded: {pair}. It stays in the study.",
    )
    if excluded is not None:
        return redirect("atp:bridge", found.pk)
    return _page(request, "exclude.html", found, form, pair=pair)


@require_POST
@permission_needed("approve_limits")
def include_pair(request: Request, pk: int, pair_pk: int) -> HttpResponse:
    pair = _pair(pk, pair_pk)
    return button(
        request,
        lambda by: bridge_actions.include_pair(by=by, pair=pair),
        said=f"Pair included: {pair}.",
        to="atp:bridge",
        args=(pk,),
    )


@permission_needed("approve_limits")
def propose(request: Request, pk: int, limits_pk: int) -> HttpResponse:
    """One set of the reference scale's limits, converted and proposed."""
    found = _bridge(pk)
    today = timezone.localdate()
    limits = next(
        (one for one in limits_to_convert(found, today=today) if one.pk == limits_pk), None
    )
    if limits is None:
        raise Http404("These limits are not in force on the reference scale.")
    study = study_of(sort_pairs(found), [limits])
    converted = study.converted[0] if study.converted else None
    if converted is None or converted.found is None:
        messages.error(request, converted.why_not if converted else study.why_not)
        return redirect("atp:bridge", found.pk)
    alert, action = converted.found.alert, converted.found.action
    form = BridgedLimitsForm(
        sent(request),
        review_on=today + REVIEW_AFTER,
        line=f"By the line: alert {alert.whole_rlu}, action {action.whole_rlu} RLU",
        careful=f"Lower end of the intervals: alert {alert.careful_rlu}, action "
        f"{action.careful_rlu} RLU",
    )

    def act(by: Actor) -> LimitSet:
        given = form.cleaned_data
        return bridge_actions.propose_bridged_limits(
            by=by,
            bridge=found,
            reference_limits=limits,
            choice=given["choice"],
            review_on=given["review_on"],
            valid_until=given["valid_until"],
        )

    if (proposed := submitted(request, form, act, said=PROPOSED)) is not None:
        return redirect("atp:setup_approve_limits", proposed.pk)
    return _page(request, "propose.html", found, form, study=study, converted=converted)


def _sign(
    request: Request, pk: int, action: Callable[..., Bridge], *, said: str, template: str
) -> HttpResponse:
    found = _bridge(pk)
    form = SignForm(sent(request))

    def act(by: Actor) -> Bridge:
        password = form.cleaned_data["password"]
        guard_password(request, password=password)
        return action(by=by, bridge=found, password=password)

    if submitted(request, form, act, said=said) is not None:
        return redirect("atp:bridge", found.pk)
    return _page(request, template, found, form, study=study_of(sort_pairs(found), []))


@sensitive_post_parameters()
@permission_needed("approve_limits")
def approve(request: Request, pk: int) -> HttpResponse:
    return _sign(
        request,
        pk,
        bridge_actions.approve_bridge,
        said="Bridge approved. It sets no limits by itself.",
        template="approve.html",
    )


@sensitive_post_parameters()
@permission_needed("approve_limits")
def retire(request: Request, pk: int) -> HttpResponse:
    return _sign(
        request,
        pk,
        bridge_actions.retire_bridge,
        said="Bridge study retired. Its pairs and limits stay on record.",
        template="retire.html",
    )
