"""The release queue, the decision, re-sanitising and filling."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.cellar.models import Fill
from brewhygiene.people.permissions import WHAT_IT_TAKES, may, permission_needed
from brewhygiene.people.requests import Request, actor_of
from brewhygiene.people.signatures import guard_password
from brewhygiene.release import actions
from brewhygiene.release.evidence import cleans_of, samples_of
from brewhygiene.release.forms import (
    DecideForm,
    FillForm,
    FillWithoutReleaseForm,
    ResanitiseForm,
)
from brewhygiene.release.gates import NEVER_WAIVABLE, Gate, gates_of
from brewhygiene.release.models import Decision, Outcome
from brewhygiene.release.polling import Seen
from brewhygiene.release.queries import (
    Dossier,
    load_dossier,
    state_of,
    versions_to_resanitise,
)
from brewhygiene.release.queue import queue_at
from brewhygiene.release.status import Code, may_resanitise
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.queries import for_floor


def queue(request: Request) -> HttpResponse:
    """What waits in the release room; asked again by its own page, only what is new."""
    seen = Seen.from_text(request.GET.get("seen", "")) if request.htmx else None
    shown = queue_at(timezone.now(), seen=seen)
    if seen is not None and seen.digest == shown.seen.digest:
        return HttpResponse(status=204)
    template = "release/queue.html" if seen is None else "release/_follow.html"
    response = render(request, template, {"room": "release", "queue": shown})
    patch_vary_headers(response, ["HX-Request"])
    return response


def _sees_gates(request: Request) -> bool:
    """Whether the person may sign; raises ``PermissionDenied`` where not even reading is theirs."""
    if may(request.user, "decide_release"):  # type: ignore[arg-type]
        return True
    if request.method == "POST" or not may(request.user, "see_everything"):  # type: ignore[arg-type]
        raise PermissionDenied(WHAT_IT_TAKES["decide_release"])
    return False


def _told(decision: Decision) -> str:
    name = decision.turnaround.vessel.name
    if decision.outcome == Outcome.HOLD or decision.lapses_at is None:
        return f"{name} is held."
    until = timezone.localtime(decision.lapses_at)
    text = f"{name} is released until {until:%H:%M on %A %d %B}."
    return f"{text} Recorded as a self-release." if decision.self_release else text


@sensitive_post_parameters("password")
def decide(request: Request, turnaround_pk: int) -> HttpResponse:
    """Hold or release, for the head brewer; the gates to read, for those who see everything."""
    signs = _sees_gates(request)
    turnaround = get_object_or_404(Turnaround, pk=turnaround_pk)

    def look() -> tuple[Dossier, list[Gate], DecideForm]:
        dossier = load_dossier(turnaround, now=timezone.now())
        gates = gates_of(
            dossier,
            brewery=request.brewery,
            now=timezone.now(),
            user=request.user if signs else None,  # type: ignore[arg-type]
        )
        return dossier, gates, DecideForm(request.POST or None, gates=gates)

    dossier, gates, form = look()
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data

        def sign() -> Decision:
            guard_password(request, password=given["password"])
            return actions.decide(
                by=actor_of(request),
                turnaround=turnaround,
                outcome=given["outcome"],
                password=given["password"],
                revision_seen=given["revision_seen"],
                reason=given["reason"],
                gate_reasons=form.gate_reasons,
            )

        decision = form.attempt(sign)
        if decision is not None:
            messages.success(request, _told(decision))
            return redirect("board:turnaround", turnaround_pk)
        refusals = form.errors
        # Whatever was recorded meanwhile is on the page now, with all that was typed.
        dossier, gates, form = look()
        form.refused_with(refusals)
    return render(
        request,
        "release/decide.html",
        {
            "room": "release",
            "dossier": dossier,
            "turnaround": dossier.turnaround,
            "vessel": dossier.turnaround.vessel,
            "gates": sorted(gates, key=lambda gate: (not gate.blocks, not gate.needs_reason)),
            "blocked": any(gate.blocks for gate in gates),
            "never_waivable": NEVER_WAIVABLE,
            "cleans": cleans_of(dossier),
            "samples": samples_of(dossier),
            "form": form,
            "signs": signs and dossier.status is not None,
            "changed": form.is_bound
            and form["revision_seen"].value() != str(dossier.turnaround.revision),
        },
        status=422 if form.is_bound else 200,
    )


@permission_needed("work_cellar")
def resanitise(request: Request, pk: int) -> HttpResponse:
    """Choose a regime to re-sanitise by; only a lapse or an opening asks for one."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    vessel = turnaround.vessel
    why_not = _why_closed(turnaround)
    if not why_not:
        now = timezone.now()
        why_not = may_resanitise(state_of(vessel, now=now).facts, now) or ""
    versions = versions_to_resanitise(vessel)
    form = ResanitiseForm(request.POST or None, versions=versions)
    if request.method == "POST" and form.is_valid():
        clean = form.attempt(
            lambda: actions.resanitise(
                by=actor_of(request), turnaround=turnaround, version=form.cleaned_data["version"]
            )
        )
        if clean is not None:
            return redirect("turnarounds:clean", clean.pk)
    return render(
        request,
        "release/resanitise.html",
        {
            "room": "release",
            "turnaround": turnaround,
            "vessel": vessel,
            "why_not": why_not,
            "versions": versions,
            "form": form,
        },
        status=422 if form.is_bound else 200,
    )


def _why_closed(turnaround: Turnaround) -> str:
    if turnaround.closed_at is None:
        return ""
    return f"{turnaround.vessel.name} has been filled since."


@permission_needed("fill_vessel")
def fill(request: Request, pk: int) -> HttpResponse:
    """Fill a released vessel; otherwise say why not."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    vessel = turnaround.vessel
    status = None if turnaround.closed_at else state_of(vessel, now=timezone.now()).status
    form = FillForm(
        request.POST or None,
        vessel=vessel,
        brewery=request.brewery,
        next_beer=turnaround.next_beer,
    )
    if request.method == "POST" and form.is_valid():
        by = actor_of(request)
        filled = form.attempt(
            lambda: actions.fill_vessel(
                by=by,
                turnaround=turnaround,
                beer=form.cleaned_data["beer"],
                batch=form.cleaned_data["batch"],
                volume_hl=form.cleaned_data["volume_hl"],
                filled_at=form.cleaned_data["filled_at"] or by.now,
            )
        )
        if filled is not None:
            messages.success(
                request, f"{vessel.name} is filled with {filled.beer}, {filled.batch}."
            )
            return redirect("board:vessel", vessel.pk)
    return render(
        request,
        "release/fill.html",
        {
            "room": "release",
            "turnaround": turnaround,
            "vessel": vessel,
            "status": status,
            "why_not": _why_closed(turnaround),
            "fillable": status is not None and status.code == Code.RELEASED,
            "form": form,
        },
        status=422 if form.is_bound else 200,
    )


@sensitive_post_parameters("password")
@permission_needed("record_irregular_fill")
def fill_without_release(request: Request, pk: int) -> HttpResponse:
    """Record a fill that happened although nobody had released the vessel."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    vessel = turnaround.vessel
    status = None if turnaround.closed_at else state_of(vessel, now=timezone.now()).status
    form = FillWithoutReleaseForm(
        request.POST or None,
        vessel=vessel,
        brewery=request.brewery,
        next_beer=turnaround.next_beer,
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data

        def record() -> Fill:
            guard_password(request, password=given["password"])
            by = actor_of(request)
            return actions.record_fill_without_release(
                by=by,
                turnaround=turnaround,
                beer=given["beer"],
                batch=given["batch"],
                volume_hl=given["volume_hl"],
                filled_at=given["filled_at"] or by.now,
                reason=given["reason"],
                password=given["password"],
            )

        if form.attempt(record) is not None:
            messages.warning(request, f"Recorded: {vessel.name} was filled without a release.")
            return redirect("board:vessel", vessel.pk)
    return render(
        request,
        "release/fill_without_release.html",
        {
            "room": "release",
            "turnaround": turnaround,
            "vessel": vessel,
            "status": status,
            "why_not": _why_closed(turnaround),
            "released": status is not None and status.code == Code.RELEASED,
            "form": form,
        },
        status=422 if form.is_bound else 200,
    )
