"""Screens of the turnaround: empty, choose a regime, follow the clean, finish or stop it."""

from collections.abc import Sequence
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewhygiene.cellar.models import Vessel
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, sent
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.cost.report import cost_of
from brewhygiene.turnarounds.forms import EmptyForm, NextBeerForm, ReasonForm, RegimeForm
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import (
    cleans_with_records,
    contents_of,
    dirty_hold_ends_at,
    for_floor,
    open_turnaround,
    regime_choices,
    running_clean,
)
from brewhygiene.turnarounds.steps.screen import step_screen
from brewhygiene.turnarounds.steps.views import go_on


def _page(
    request: Request, page: str, *, form: ActionForm | None = None, **context: Any
) -> HttpResponse:
    """A floor page; 422 where its form came back with an error."""
    status = 422 if form is not None and form.is_bound else 200
    return render(
        request,
        f"turnarounds/{page}.html",
        {"room": "board", "form": form, **context},
        status=status,
    )


@permission_needed("work_cellar")
def empty(request: Request, pk: int) -> HttpResponse:
    """Record that a vessel was emptied. What was in it is asked only where nobody recorded it."""
    vessel = get_object_or_404(Vessel, pk=pk)
    fill = contents_of(vessel)
    form = EmptyForm(sent(request), contents_known=fill is not None)
    if request.method == "POST" and form.is_valid():
        by = actor_of(request)
        turnaround = form.attempt(
            lambda: actions.empty_vessel(
                by=by,
                vessel=vessel,
                emptied_at=form.cleaned_data["emptied_at"] or by.now,
                beer=form.cleaned_data.get("beer"),
                next_beer=form.cleaned_data["next_beer"],
                co2_left=form.cleaned_data["co2_left"],
                note=form.cleaned_data["note"],
            )
        )
        if turnaround is not None:
            return redirect("board:turnaround", turnaround.pk)
    already = open_turnaround(vessel)
    return _page(request, "empty", form=form, vessel=vessel, fill=fill, already=already)


@permission_needed("work_cellar")
def next_beer(request: Request, pk: int) -> HttpResponse:
    """Say what comes next; goes back to the choice of regime while there is one to make."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    form = NextBeerForm(sent(request), initial={"beer": turnaround.next_beer})
    if request.method == "POST" and form.is_valid():
        planned = form.attempt(
            lambda: actions.plan_next_beer(
                by=actor_of(request), turnaround=turnaround, beer=form.cleaned_data["beer"]
            )
        )
        if planned is not None:
            to = "board:turnaround" if turnaround.cleans.exists() else "turnarounds:regime"
            return redirect(to, turnaround.pk)
    return _page(request, "next_beer", form=form, turnaround=turnaround)


@never_cache
@permission_needed("work_cellar")
def regime(request: Request, pk: int) -> HttpResponse:
    """Accept the proposed regime, or choose another that fits the vessel."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    posted = RegimeForm(sent(request))
    if request.method == "POST" and posted.is_valid():
        clean = posted.attempt(
            lambda: actions.start_clean(
                by=actor_of(request),
                turnaround=turnaround,
                version=posted.cleaned_data["version"],
                weaker_reason=posted.cleaned_data["weaker_reason"],
            )
        )
        if clean is not None:
            return go_on(clean.pk)
    elif (running := running_clean(turnaround)) is not None:
        return redirect("turnarounds:clean", running.pk)
    proposal, others = regime_choices(turnaround)

    def form_for(version_pk: int, lacks: Sequence[str]) -> RegimeForm:
        auto_id = f"r{version_pk}_%s"
        form = RegimeForm(initial={"version": version_pk}, auto_id=auto_id)
        if posted.is_bound and str(posted["version"].value()) == str(version_pk):
            form, form.auto_id = posted, auto_id
        if lacks:
            form.ask_reason()
        return form

    return _page(
        request,
        "regime",
        form=posted,
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
    form = ReasonForm(sent(request), label="Why it was opened")
    if request.method == "POST" and form.is_valid():
        opening = form.attempt(
            lambda: actions.record_opening(
                by=actor_of(request), turnaround=turnaround, reason=form.cleaned_data["reason"]
            )
        )
        if opening is not None:
            return redirect("board:turnaround", turnaround.pk)
    return _page(request, "opened", form=form, turnaround=turnaround)


@never_cache
def clean(request: Request, pk: int) -> HttpResponse:
    """The trail of a clean's steps, the one that is on first. For anyone to look at."""
    shown = get_object_or_404(cleans_with_records(), pk=pk)
    now, brewery = timezone.now(), request.brewery
    screens = [
        step_screen(shown, step.pk, brewery=brewery, now=now) for step in shown.version.steps.all()
    ]
    current = next((screen for screen in screens if screen.is_current), None)
    report = None if shown.running else cost_of(progress_of(shown), brewery=brewery)
    return _page(request, "clean", clean=shown, screens=screens, current=current, report=report)


def cost(request: Request, pk: int) -> HttpResponse:
    """What a clean that has ended cost, line by line. For anyone to look at."""
    shown = get_object_or_404(cleans_with_records(), pk=pk)
    brewery = request.brewery
    report = None if shown.running else cost_of(progress_of(shown), brewery=brewery)
    return _page(request, "cost/cost", clean=shown, report=report)


@permission_needed("work_cellar")
def stop(request: Request, pk: int) -> HttpResponse:
    """Stop a running clean for good."""
    running = get_object_or_404(cleans_with_records(), pk=pk)
    form = ReasonForm(sent(request), label="Why it is stopped")
    if request.method == "POST" and form.is_valid():
        stopped = form.attempt(
            lambda: actions.stop_clean(
                by=actor_of(request), clean=running, reason=form.cleaned_data["reason"]
            )
        )
        if stopped is not None:
            return redirect("board:turnaround", running.turnaround_id)
    return _page(request, "stop", form=form, clean=running)


@never_cache
@permission_needed("work_cellar")
def finish(request: Request, pk: int) -> HttpResponse:
    """Look over a clean whose steps are all done, and finish it."""
    running = get_object_or_404(cleans_with_records(), pk=pk)
    form = ActionForm(sent(request))
    if request.method == "POST" and form.is_valid():
        finished = form.attempt(lambda: actions.finish_clean(by=actor_of(request), clean=running))
        if finished is not None:
            return redirect("atp:samples", running.turnaround_id)
    now, brewery = timezone.now(), request.brewery
    return _page(
        request,
        "finish",
        form=form,
        clean=running,
        progress=progress_of(running),
        screens=[
            step_screen(running, step.pk, brewery=brewery, now=now)
            for step in running.version.steps.all()
        ],
    )
