"""Screens of the turnaround: empty, choose a regime, follow the clean, finish or stop it."""

from collections.abc import Sequence
from functools import partial

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewhygiene.cellar.models import Vessel
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.skids.queries import skids_in_use
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.cost.report import CostReport, cost_of
from brewhygiene.turnarounds.cost.steps import shares_of
from brewhygiene.turnarounds.forms import EmptyForm, NextBeerForm, RegimeForm
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import (
    cleans_with_records,
    contents_of,
    dirty_hold_ends_at,
    for_floor,
    open_turnaround,
    regime_choices,
    running_clean,
    usual_gear,
)
from brewhygiene.turnarounds.reason_page import reason_page
from brewhygiene.turnarounds.steps.screen import StepScreen, step_screens
from brewhygiene.turnarounds.steps.views import to_current_step


@permission_needed("work_cellar")
def empty(request: Request, pk: int) -> HttpResponse:
    """Record that a vessel was emptied. What was in it is asked only where nobody recorded it."""
    vessel = get_object_or_404(Vessel, pk=pk)
    fill = contents_of(vessel)
    form = EmptyForm(sent(request), contents_known=fill is not None)
    turnaround = submitted(
        request,
        form,
        lambda by: actions.empty_vessel(
            by=by,
            vessel=vessel,
            emptied_at=form.cleaned_data["emptied_at"] or by.now,
            beer=form.cleaned_data.get("beer"),
            next_beer=form.cleaned_data["next_beer"],
            co2_left=form.cleaned_data["co2_left"],
            note=form.cleaned_data["note"],
        ),
    )
    if turnaround is not None:
        return redirect("board:turnaround", turnaround.pk)
    already = open_turnaround(vessel)
    return page(
        request,
        "turnarounds/empty.html",
        form=form,
        room="board",
        vessel=vessel,
        fill=fill,
        already=already,
    )


@permission_needed("work_cellar")
def next_beer(request: Request, pk: int) -> HttpResponse:
    """Say what comes next; goes back to the choice of regime while there is one to make."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    form = NextBeerForm(sent(request), initial={"beer": turnaround.next_beer})
    planned = submitted(
        request,
        form,
        lambda by: actions.plan_next_beer(
            by=by, turnaround=turnaround, beer=form.cleaned_data["beer"]
        ),
    )
    if planned is not None:
        to = "board:turnaround" if turnaround.cleans.exists() else "turnarounds:regime"
        return redirect(to, turnaround.pk)
    return page(
        request, "turnarounds/next_beer.html", form=form, room="board", turnaround=turnaround
    )


@never_cache
@permission_needed("work_cellar")
def regime(request: Request, pk: int) -> HttpResponse:
    """Accept the proposed regime, or choose another that fits the vessel."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    gear = usual_gear(turnaround.vessel)
    posted = RegimeForm(sent(request))
    posted.offer(*gear)
    clean = submitted(
        request,
        posted,
        lambda by: actions.start_clean(
            by=by,
            turnaround=turnaround,
            version=posted.cleaned_data["version"],
            weaker_reason=posted.cleaned_data["weaker_reason"],
            **posted.gear(),
        ),
    )
    if clean is not None:
        return to_current_step(clean.pk)
    if request.method != "POST" and (running := running_clean(turnaround)) is not None:
        return redirect("turnarounds:clean", running.pk)
    proposal, others = regime_choices(turnaround)

    def form_for(version_pk: int, lacks: Sequence[str]) -> RegimeForm:
        auto_id = f"r{version_pk}_%s"
        form = RegimeForm(initial={"version": version_pk}, auto_id=auto_id)
        form.offer(*gear)
        if posted.is_bound and str(posted["version"].value()) == str(version_pk):
            form, form.auto_id = posted, auto_id
        if lacks:
            form.ask_reason()
        return form

    return page(
        request,
        "turnarounds/regime.html",
        form=posted,
        room="board",
        turnaround=turnaround,
        proposal=proposal,
        proposed_form=(form_for(proposal.version.pk, proposal.unmet) if proposal.version else None),
        others=[(other, form_for(other.version.pk, other.lacks)) for other in others],
        dirty_hold_ends=dirty_hold_ends_at(turnaround),
    )


@permission_needed("work_cellar")
def opened(request: Request, pk: int) -> HttpResponse:
    """Record that a cleaned vessel was opened."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    return reason_page(
        request,
        "turnarounds/opened.html",
        label="Why it was opened",
        act=partial(actions.record_opening, turnaround=turnaround),
        then=lambda: redirect("board:turnaround", turnaround.pk),
        turnaround=turnaround,
    )


@permission_needed("work_cellar")
def stop(request: Request, pk: int) -> HttpResponse:
    """Stop a running clean for good."""
    running = get_object_or_404(cleans_with_records(), pk=pk)
    return reason_page(
        request,
        "turnarounds/stop.html",
        label="Why it is stopped",
        act=partial(actions.stop_clean, clean=running),
        then=lambda: redirect("board:turnaround", running.turnaround_id),
        clean=running,
    )


def _screens(request: Request, clean: Clean) -> list[StepScreen]:
    return step_screens(clean, brewery=request.brewery, now=timezone.now())


def _report(request: Request, clean: Clean) -> CostReport | None:
    """The cost of a clean that has ended."""
    if clean.running:
        return None
    shares = shares_of([clean], now=timezone.now(), brewery=request.brewery)
    return cost_of(progress_of(clean), brewery=request.brewery, shares=shares)


@never_cache
def clean(request: Request, pk: int) -> HttpResponse:
    """The trail of a clean's steps, the one that is on first. For anyone to look at."""
    shown = get_object_or_404(cleans_with_records(), pk=pk)
    screens = _screens(request, shown)
    return page(
        request,
        "turnarounds/clean.html",
        room="board",
        clean=shown,
        screens=screens,
        current=next((screen for screen in screens if screen.is_current), None),
        report=_report(request, shown),
        # A brewery without skids sees nothing of them.
        may_change_gear=shown.running and skids_in_use().exists(),
    )


def cost(request: Request, pk: int) -> HttpResponse:
    """What a clean that has ended cost, line by line. For anyone to look at."""
    shown = get_object_or_404(cleans_with_records(), pk=pk)
    report = _report(request, shown)
    return page(request, "turnarounds/cost/cost.html", room="board", clean=shown, report=report)


@never_cache
@permission_needed("work_cellar")
def finish(request: Request, pk: int) -> HttpResponse:
    """Look over a clean whose steps are all done, and finish it."""
    running = get_object_or_404(cleans_with_records(), pk=pk)
    form = ActionForm(sent(request))
    finished = submitted(request, form, lambda by: actions.finish_clean(by=by, clean=running))
    if finished is not None:
        return redirect("atp:samples", running.turnaround_id)
    return page(
        request,
        "turnarounds/finish.html",
        form=form,
        room="board",
        clean=running,
        progress=progress_of(running),
        screens=_screens(request, running),
    )
