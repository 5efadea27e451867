"""The regimes: anybody signed in may read them, the head brewer may change them."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.cellar.models import VesselKind
from brewhygiene.people.form_pages import confirmed, page, sign_off, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, sent
from brewhygiene.regimes import actions
from brewhygiene.regimes.actions import content_mark
from brewhygiene.regimes.drafts import drafts_of
from brewhygiene.regimes.editor.editor import RegimeEditor
from brewhygiene.regimes.editor.forms import CopyForm, TakeShippedForm
from brewhygiene.regimes.library.differences import (
    differences,
    starting_of,
    with_other_wording,
)
from brewhygiene.regimes.library.install import install_library, missing_regimes, take_shipped
from brewhygiene.regimes.measures import window_in_words
from brewhygiene.regimes.models import Regime, RegimeVersion, StepKind
from brewhygiene.regimes.queries import (
    agents_to_choose,
    regimes_for_list,
    versions_for_history,
    was_ever_used,
)
from brewhygiene.regimes.rules.advice import stale_sources
from brewhygiene.regimes.version_page import version_pages


def regimes(request: Request) -> HttpResponse:
    every = list(regimes_for_list())
    kind = request.GET.get("kind", "")
    shown = [regime for regime in every if not kind or kind in regime.vessel_kinds]
    return page(
        request,
        "regimes/regimes.html",
        room="setup",
        active=[regime for regime in shown if regime.active],
        retired=[regime for regime in shown if not regime.active],
        kinds=VesselKind.choices,
        kind=kind,
        missing=missing_regimes(regime.name for regime in every),
        otherwise=with_other_wording(every),
    )


def regime(request: Request, pk: int) -> HttpResponse:
    regime = get_object_or_404(Regime, pk=pk)
    versions = version_pages(versions_for_history(regime), brewery=request.brewery)
    return page(
        request,
        "regimes/regime.html",
        room="setup",
        regime=regime,
        versions=versions,
        starting=starting_of(regime),
    )


@sensitive_post_parameters()
@permission_needed("edit_setup")
def shipped(request: Request, pk: int) -> HttpResponse:
    """A starting regime beside its shipped wording, which may be taken as a new version."""
    regime = get_object_or_404(Regime, pk=pk)
    current = get_object_or_404(versions_for_history(regime), current=True)
    starting = starting_of(regime)
    if starting is None:
        raise Http404
    form = TakeShippedForm(sent(request), initial={"seen": content_mark(current)})
    saved = submitted(
        request,
        form,
        confirmed(
            request,
            form,
            lambda by, password: take_shipped(
                by=by, regime=regime, password=password, seen=form.cleaned_data["seen"]
            ),
        ),
        said=lambda version: f"Saved as version {version.number}.",
    )
    if saved is not None:
        return redirect("regimes:regime", pk)
    return page(
        request,
        "regimes/shipped.html",
        form=form,
        room="setup",
        regime=regime,
        current=current,
        found=differences(
            current, starting, lambda window: window_in_words(window, request.brewery)
        ),
    )


def _editor(request: Request, version: RegimeVersion | None = None) -> RegimeEditor:
    return RegimeEditor(
        agents=list(agents_to_choose()),
        brewery=request.brewery,
        version=version,
        posted=sent(request),
    )


def _show_editor(request: Request, editor: RegimeEditor, **shown: Any) -> HttpResponse:
    return page(
        request,
        "regimes/editor/edit.html",
        form=editor.regime,
        room="setup",
        editor=editor,
        step_kinds=StepKind.choices,
        **shown,
    )


@sensitive_post_parameters()
@permission_needed("edit_setup")
def add(request: Request) -> HttpResponse:
    editor = _editor(request)
    saved = editor.attempt(
        lambda: confirmed(
            request,
            editor.regime,
            lambda by, password: actions.create_regime(
                by=by,
                password=password,
                about=editor.regime.about(),
                steps=editor.drafts(),
                provenance="Recorded here.",
            ),
        )(actor_of(request))
    )
    if saved is None:
        return _show_editor(request, editor)
    messages.success(request, f"{saved.name} saved as version 1.")
    return redirect("regimes:regime", saved.pk)


@sensitive_post_parameters()
@permission_needed("edit_setup")
def edit(request: Request, pk: int) -> HttpResponse:
    regime = get_object_or_404(Regime, pk=pk)
    current = get_object_or_404(versions_for_history(regime), current=True)
    editor = _editor(request, current)
    before = drafts_of(current)
    saved = editor.attempt(
        lambda: confirmed(
            request,
            editor.regime,
            lambda by, password: actions.save_regime_version(
                by=by,
                password=password,
                regime=regime,
                about=editor.regime.about(),
                steps=editor.drafts(),
                change_note=editor.regime.cleaned_data["change_note"],
                seen=editor.regime.cleaned_data["seen"],
            ),
        )(actor_of(request))
    )
    if saved is None:
        ever_used = was_ever_used(regime)
        return _show_editor(request, editor, regime=regime, current=current, ever_used=ever_used)
    messages.success(request, f"Saved as version {saved.number}.")
    for doubt in stale_sources(before, editor.drafts()):
        messages.warning(request, doubt.message)
    return redirect("regimes:regime", regime.pk)


@sensitive_post_parameters()
@permission_needed("edit_setup")
def copy(request: Request, pk: int) -> HttpResponse:
    regime = get_object_or_404(Regime, pk=pk)
    form = CopyForm(sent(request), initial={"name": f"{regime.name}, own"[:80]})
    copied = submitted(
        request,
        form,
        confirmed(
            request,
            form,
            lambda by, password: actions.copy_regime(
                by=by, regime=regime, name=form.cleaned_data["name"], password=password
            ),
        ),
        said=lambda made: f"{made.name} added. Edit its steps below.",
    )
    if copied is not None:
        return redirect("regimes:edit_regime", copied.pk)
    return page(request, "regimes/copy.html", form=form, room="setup", regime=regime)


@sensitive_post_parameters()
@permission_needed("edit_setup")
def set_active(request: Request, pk: int, active: bool) -> HttpResponse:
    """Retire a regime, or use a retired one again."""
    regime = get_object_or_404(Regime, pk=pk)
    act = actions.reinstate_regime if active else actions.retire_regime
    said = "is in use again." if active else "retired. Its cleans stay on record."
    return sign_off(
        request,
        lambda by, password: act(by=by, regime=regime, password=password),
        title=f"Use {regime.name} again" if active else f"Retire {regime.name}",
        about="" if active else "A retired regime is not proposed. Its cleans stay on record.",
        do="Use regime again" if active else "Retire regime",
        said=f"{regime.name} {said}",
        to="regimes:regime",
        args=(pk,),
    )


@sensitive_post_parameters()
@permission_needed("edit_setup")
def add_starting(request: Request) -> HttpResponse:
    return sign_off(
        request,
        lambda by, password: install_library(by=by, password=password),
        title="Add starting regimes",
        about="Your own regimes with the same name stay as they are.",
        do="Add starting regimes",
        said=lambda added: (
            f"{len(added.regimes)} regimes and {len(added.agents)} agents added. They are "
            "starting points: confirm each against your labels, safety data sheets and readings."
        ),
        to="regimes:regimes",
    )
