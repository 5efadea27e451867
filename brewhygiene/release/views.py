"""The release queue, the decision, re-sanitising and filling."""

from collections.abc import Callable
from datetime import datetime

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.atp.meters.queries import meters_that_work
from brewhygiene.cellar.models import Fill
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.permissions import WHAT_IT_TAKES, may, permission_needed
from brewhygiene.people.requests import Request
from brewhygiene.people.signing_in.second_signature import SECRET, SIGNER, guard_second
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.plates.questions import at_risk_of
from brewhygiene.quantities.style import shown_moment
from brewhygiene.quantities.words import counted
from brewhygiene.release import actions
from brewhygiene.release.evidence import cleans_of, samples_of
from brewhygiene.release.forms import (
    DecideForm,
    FillForm,
    FillWithoutReleaseForm,
    ResanitiseForm,
)
from brewhygiene.release.gates import NEVER_WAIVABLE, Answer, Gate, gates_of
from brewhygiene.release.models import Decision, DecisionKind, Outcome
from brewhygiene.release.polling import Seen
from brewhygiene.release.powers.rules import rules_in_force
from brewhygiene.release.powers.signers import TwoSigners, over_action_signers
from brewhygiene.release.queries import (
    Dossier,
    load_dossier,
    state_of,
    versions_to_resanitise,
)
from brewhygiene.release.queue import queue_at
from brewhygiene.release.standing.clocks import needs_samples
from brewhygiene.release.standing.facts import VesselFacts
from brewhygiene.release.status import Code, may_resanitise, may_sanitise_before_filling
from brewhygiene.turnarounds.models import Clean, Turnaround
from brewhygiene.turnarounds.queries import for_floor, usual_gear


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


def _may_sign(request: Request) -> bool:
    """Whether the person may sign; raises ``PermissionDenied`` where not even reading is theirs."""
    if may(request.user, "decide_release"):  # type: ignore[arg-type]
        return True
    if request.method == "POST" or not may(request.user, "see_everything"):  # type: ignore[arg-type]
        raise PermissionDenied(WHAT_IT_TAKES["decide_release"])
    return False


def _decided_words(decision: Decision) -> str:
    name = decision.turnaround.vessel.name
    if decision.outcome == Outcome.HOLD or decision.lapses_at is None:
        return f"{name} is held."
    until = timezone.localtime(decision.lapses_at)
    text = (
        f"{name} is released until {shown_moment(until, 'H:i')} on {shown_moment(until, 'l d F')}."
    )
    if decision.kind != DecisionKind.USUAL:
        text += f" Recorded as {decision.get_kind_display()}."
    return f"{text} Recorded as a self-release." if decision.self_release else text


@sensitive_post_parameters("password", "second_secret")
def decide(request: Request, turnaround_pk: int) -> HttpResponse:
    """Hold or release, for the head brewer; the checks to read, for those who see everything."""
    signs = _may_sign(request)
    turnaround = get_object_or_404(Turnaround, pk=turnaround_pk)

    def look() -> tuple[Dossier, list[Gate], DecideForm, TwoSigners | None]:
        dossier = load_dossier(turnaround, now=timezone.now())
        gates = gates_of(
            dossier,
            brewery=request.brewery,
            now=timezone.now(),
            user=request.user if signs else None,  # type: ignore[arg-type]
        )
        two = None
        if signs and any(gate.two_sign for gate in gates):
            two = over_action_signers(dossier, request.user)  # type: ignore[arg-type]
        form = DecideForm(
            request.POST or None, gates=gates, vessel=dossier.turnaround.vessel.name, two=two
        )
        return dossier, gates, form, two

    def sign(by: Actor, password: str) -> Decision:
        given = form.cleaned_data
        person = given.get(SIGNER)
        if person is not None and given["outcome"] == Outcome.RELEASE:
            guard_second(request, person=person, secret=given[SECRET])
        return actions.decide(
            by=by,
            turnaround=turnaround,
            outcome=given["outcome"],
            password=password,
            revision_seen=given["revision_seen"],
            reason=given["reason"],
            gate_reasons=form.gate_reasons,
            second_signer=given.get(SIGNER),
            second_secret=given.get(SECRET, ""),
        )

    dossier, gates, form, two = look()
    complete = form.is_valid()
    if submitted(request, form, confirmed(request, form, sign), said=_decided_words):
        return redirect("board:turnaround", turnaround_pk)
    if complete:
        refusals = form.errors
        # Whatever was recorded meanwhile is on the page now, with all that was typed.
        dossier, gates, form, two = look()
        form.refused_with(refusals)
    exceptions = [gate for gate in gates if gate.answer != Answer.YES]
    passes = [gate for gate in gates if gate.answer == Answer.YES]
    blocked = any(gate.blocks for gate in gates)
    open_now = signs and dossier.status is not None
    unread = any(g.code in ("sampled", "control_check") and g.answer == Answer.NO for g in gates)
    no_meter = open_now and not meters_that_work(timezone.localdate()) and unread
    grew = Plate.objects.filter(vessel=dossier.turnaround.vessel, state=PlateState.POSITIVE)
    held = [one for every in at_risk_of(grew).values() for one in every if one.is_open]
    return page(
        request,
        "release/decide.html",
        form=form,
        room="release",
        dossier=dossier,
        turnaround=dossier.turnaround,
        vessel=dossier.turnaround.vessel,
        heading="Decision on " if open_now else "Checks of ",
        exceptions=sorted(exceptions, key=lambda gate: (not gate.blocks, not gate.needs_reason)),
        passes=passes,
        number=len(gates),
        summary=counted(len(exceptions), "exception") if exceptions else "All checks pass",
        summary_flag=Answer.NO if blocked else Answer.EXPLAIN if exceptions else Answer.YES,
        blocked=blocked,
        never_waivable=NEVER_WAIVABLE,
        cleans=cleans_of(dossier),
        samples=samples_of(dossier),
        signs=open_now,
        two=two,
        rules=rules_in_force(request.brewery),
        maybe_without_meter=no_meter and bool(dossier.counted_cleans),
        held=held,
        changed=form.is_bound and form["revision_seen"].value() != str(dossier.turnaround.revision),
    )


def _why_closed(turnaround: Turnaround) -> str:
    return f"{turnaround.vessel.name} is already filled." if turnaround.closed_at else ""


def _sanitising(
    request: Request,
    pk: int,
    may_begin: Callable[[VesselFacts, datetime], str | None],
    act: Callable[..., Clean],
    template: str,
) -> HttpResponse:
    """Choose a regime that sanitises, and start it; or why that may not be now."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    why_not, sampled = _why_closed(turnaround), False
    if not why_not:
        now = timezone.now()
        facts = state_of(turnaround.vessel, now=now).facts
        why_not, sampled = may_begin(facts, now) or "", needs_samples(facts, now)
    versions = versions_to_resanitise(turnaround.vessel, sampled=sampled)
    form = ResanitiseForm(request.POST or None, versions=versions)
    form.offer(*usual_gear(turnaround.vessel))
    clean = submitted(
        request,
        form,
        lambda by: act(
            by=by, turnaround=turnaround, version=form.cleaned_data["version"], **form.gear()
        ),
    )
    if clean is not None:
        return redirect("turnarounds:clean", clean.pk)
    return page(
        request,
        template,
        form=form,
        room="release",
        turnaround=turnaround,
        vessel=turnaround.vessel,
        why_not=why_not,
        versions=versions,
        sampled=sampled,
    )


@permission_needed("work_cellar")
def resanitise(request: Request, pk: int) -> HttpResponse:
    """Choose a regime to re-sanitise by; only a lapse or an opening asks for one."""
    return _sanitising(request, pk, may_resanitise, actions.resanitise, "release/resanitise.html")


@permission_needed("work_cellar")
def sanitise(request: Request, pk: int) -> HttpResponse:
    """Sanitise a released vessel for its filling, with one button."""
    return _sanitising(
        request,
        pk,
        may_sanitise_before_filling,
        actions.sanitise_before_filling,
        "release/sanitise.html",
    )


def _filling(
    request: Request,
    pk: int,
    kind: type[FillForm],
    act: Callable[..., Fill],
    template: str,
    said: Callable[[Fill], str],
) -> HttpResponse:
    """A form that records what went into a vessel, and closes its turnaround."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    vessel = turnaround.vessel
    status = None if turnaround.closed_at else state_of(vessel, now=timezone.now()).status
    form = kind(
        request.POST or None,
        vessel=vessel,
        brewery=request.brewery,
        next_beer=turnaround.next_beer,
    )

    def record(by: Actor) -> Fill:
        given = form.given
        given["filled_at"] = given["filled_at"] or by.now
        return act(by=by, turnaround=turnaround, **given)

    act_now: Callable[[Actor], Fill] = record
    if "password" in form.fields:
        act_now = confirmed(request, form, lambda by, _: record(by))
    if submitted(request, form, act_now, said=said):
        return redirect("board:vessel", vessel.pk)
    return page(
        request,
        template,
        form=form,
        room="release",
        turnaround=turnaround,
        vessel=vessel,
        status=status,
        why_not=_why_closed(turnaround),
        released=status is not None and status.code == Code.RELEASED,
    )


@permission_needed("fill_vessel")
def fill(request: Request, pk: int) -> HttpResponse:
    """Fill a released vessel; otherwise say why not."""
    return _filling(
        request,
        pk,
        FillForm,
        actions.fill_vessel,
        "release/fill.html",
        lambda filled: f"{filled.vessel.name} is filled with {filled.beer}, {filled.batch}.",
    )


@sensitive_post_parameters("password")
@permission_needed("record_irregular_fill")
def fill_without_release(request: Request, pk: int) -> HttpResponse:
    """Record a fill that happened although nobody had released the vessel."""
    return _filling(
        request,
        pk,
        FillWithoutReleaseForm,
        actions.record_fill_without_release,
        "release/fill_without_release.html",
        lambda filled: f"Recorded: {filled.vessel.name} was filled without a release.",
    )
