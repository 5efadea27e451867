"""The regimes: anybody signed in may read them, the head brewer may change them."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import VesselKind
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, sent
from brewhygiene.refusals import Refusal
from brewhygiene.regimes import actions
from brewhygiene.regimes.drafts import drafts_of
from brewhygiene.regimes.editor.editor import RegimeEditor
from brewhygiene.regimes.editor.forms import CopyForm
from brewhygiene.regimes.library.install import install_library, missing_regimes
from brewhygiene.regimes.models import Regime, StepKind
from brewhygiene.regimes.queries import (
    agents_to_choose,
    regimes_for_list,
    versions_for_history,
    was_ever_used,
)
from brewhygiene.regimes.rules.advice import stale_sources
from brewhygiene.regimes.version_page import version_pages


def _brewery(request: Request) -> Brewery:
    brewery: Brewery = request.brewery
    return brewery


def regimes(request: Request) -> HttpResponse:
    every = list(regimes_for_list())
    kind = request.GET.get("kind", "")
    shown = [regime for regime in every if not kind or kind in regime.vessel_kinds]
    context = {
        "room": "setup",
        "active": [regime for regime in shown if regime.active],
        "retired": [regime for regime in shown if not regime.active],
        "kinds": VesselKind.choices,
        "kind": kind,
        "missing": missing_regimes(regime.name for regime in every),
    }
    return render(request, "regimes/regimes.html", context)


def regime(request: Request, pk: int) -> HttpResponse:
    regime = get_object_or_404(Regime, pk=pk)
    versions = version_pages(versions_for_history(regime), brewery=_brewery(request))
    context = {"room": "setup", "regime": regime, "versions": versions}
    return render(request, "regimes/regime.html", context)


def _show_editor(
    request: Request, editor: RegimeEditor, *, regime: Regime | None, **more: Any
) -> HttpResponse:
    context = {
        "room": "setup",
        "editor": editor,
        "regime": regime,
        "step_kinds": StepKind.choices,
        **more,
    }
    return render(request, "regimes/editor/edit.html", context, status=422 if editor.bound else 200)


@permission_needed("edit_setup")
def add(request: Request) -> HttpResponse:
    editor = RegimeEditor(
        agents=list(agents_to_choose()),
        brewery=_brewery(request),
        posted=sent(request),
    )
    if editor.is_valid():
        try:
            saved = actions.create_regime(
                by=actor_of(request),
                about=editor.regime.about(),
                steps=editor.drafts(),
                provenance="Recorded here.",
            )
        except Refusal as refusal:
            editor.refuse(refusal)
        else:
            messages.success(request, f"{saved.name} is saved as version 1.")
            return redirect("regimes:regime", saved.pk)
    return _show_editor(request, editor, regime=None)


@permission_needed("edit_setup")
def edit(request: Request, pk: int) -> HttpResponse:
    regime = get_object_or_404(Regime, pk=pk)
    current = get_object_or_404(versions_for_history(regime), current=True)
    editor = RegimeEditor(
        agents=list(agents_to_choose()),
        brewery=_brewery(request),
        version=current,
        posted=sent(request),
    )
    if editor.is_valid():
        before, after = drafts_of(current), editor.drafts()
        try:
            saved = actions.save_regime_version(
                by=actor_of(request),
                regime=regime,
                about=editor.regime.about(),
                steps=after,
                change_note=editor.regime.cleaned_data["change_note"],
                seen=editor.regime.cleaned_data["seen"],
            )
        except Refusal as refusal:
            editor.refuse(refusal)
        else:
            messages.success(request, f"Saved as version {saved.number}.")
            for doubt in stale_sources(before, after):
                messages.warning(request, doubt.message)
            return redirect("regimes:regime", regime.pk)
    return _show_editor(
        request,
        editor,
        regime=regime,
        current=current,
        ever_used=was_ever_used(regime),
    )


@permission_needed("edit_setup")
def copy(request: Request, pk: int) -> HttpResponse:
    regime = get_object_or_404(Regime, pk=pk)
    form = CopyForm(sent(request), initial={"name": f"{regime.name}, own"[:80]})
    if request.method == "POST" and form.is_valid():
        copied = form.attempt(
            lambda: actions.copy_regime(
                by=actor_of(request), regime=regime, name=form.cleaned_data["name"]
            )
        )
        if copied is not None:
            messages.success(request, f"{copied.name} is there. Change it to what it should be.")
            return redirect("regimes:edit_regime", copied.pk)
    context = {"room": "setup", "form": form, "regime": regime}
    return render(request, "regimes/copy.html", context, status=422 if form.is_bound else 200)


@require_POST
@permission_needed("edit_setup")
def retire(request: Request, pk: int) -> HttpResponse:
    regime = get_object_or_404(Regime, pk=pk)
    try:
        actions.retire_regime(by=actor_of(request), regime=regime)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, f"{regime.name} is out of use. What it did stays on record.")
    return redirect("regimes:regime", regime.pk)


@require_POST
@permission_needed("edit_setup")
def reinstate(request: Request, pk: int) -> HttpResponse:
    regime = get_object_or_404(Regime, pk=pk)
    try:
        actions.reinstate_regime(by=actor_of(request), regime=regime)
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, f"{regime.name} is in use again.")
    return redirect("regimes:regime", regime.pk)


@require_POST
@permission_needed("edit_setup")
def bring_in(request: Request) -> HttpResponse:
    try:
        installed = install_library(by=actor_of(request))
    except Refusal as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(
            request,
            f"Brought in: {len(installed.regimes)} regimes and {len(installed.agents)} agents. "
            "They are starting points: confirm each against your labels, safety data sheets and "
            "results.",
        )
    return redirect("regimes:regimes")
