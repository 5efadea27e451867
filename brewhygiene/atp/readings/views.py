"""Screens of the samples of a clean and of their readings."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.atp.readings import actions as reading_actions
from brewhygiene.atp.readings.due import to_sample
from brewhygiene.atp.readings.forms import CorrectResultForm, SampleForm
from brewhygiene.atp.readings.handling import COUNT_S, PROVENANCE, handling_steps
from brewhygiene.atp.readings.queries import (
    Kit,
    for_result_pages,
    point_states,
    rinse_end_on_record,
    standing_actions,
)
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.delivery.arrivals import arrivals_of
from brewhygiene.delivery.late import typed_at
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.models import User
from brewhygiene.people.permissions import may, permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.people.signatures import guard_password
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.queries import contents_of, for_floor, open_turnaround, running_clean


def _due(turnaround: Turnaround) -> dict[str, Any]:
    """What is left to do with the samples of a turnaround."""
    now = to_sample(turnaround)
    states = point_states(turnaround, now.clean)
    return {
        "states": states,
        "required": sum(state.point.required_for_release for state in states),
        "next_due": next(
            (state.point for state in states if state.due and now.is_for(state.point)), None
        ),
        "over": standing_actions(turnaround),
        "unjudged": [r for state in states for r in state.results if r.verdict == Verdict.UNJUDGED],
        "not_now": now.not_now,
        "last_clean": now.clean,
        "due": now,
    }


@never_cache
def samples(request: Request, pk: int) -> HttpResponse:
    """The sampling points of a cleaned vessel. For anyone to look at."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    return page(
        request,
        "atp/readings/samples.html",
        room="sample",
        turnaround=turnaround,
        **_due(turnaround),
    )


def _not_now(request: Request, why: tuple[str, str], **context: Any) -> HttpResponse:
    """Why no sample can be taken, with the way to what comes first."""
    code, words = why
    return page(
        request, "atp/readings/not_now.html", room="sample", code=code, words=words, **context
    )


@never_cache
@permission_needed("work_cellar")
def sample(request: Request, pk: int, point_pk: int) -> HttpResponse:
    """Record one reading at one point."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    point = get_object_or_404(
        SamplingPoint.objects.select_related("vessel"),
        pk=point_pk,
        vessel=turnaround.vessel_id,
        active=True,
    )
    due = to_sample(turnaround)
    clean = due.clean
    if clean is None or (due.not_now is not None and request.method != "POST"):
        return _not_now(
            request,
            due.not_now or ("not_cleaned", ""),
            point=point,
            vessel=turnaround.vessel,
            turnaround=turnaround,
            running=running_clean(turnaround),
            step=due.step,
        )
    assert isinstance(request.user, User)
    day = brewery_day(timezone.now(), request.brewery)
    kit = Kit(user=request.user, point=point, moment=due.moment, day=day)
    form = SampleForm(
        sent(request),
        kit=kit,
        initial={
            "meter": lambda: kit.usual_meter,
            "test_lot": lambda: kit.usual_lot,
            "rinse_end": lambda: rinse_end_on_record(clean),
        },
    )

    def record(by: Actor) -> Result:
        given = {k: v for k, v in form.cleaned_data.items() if k not in ("key", "client_time")}
        # Typed without a network: taken when it was typed, unless it says itself.
        given["taken_at"] = given["taken_at"] or typed_at(request)
        return reading_actions.record_result(by=by, turnaround=turnaround, point=point, **given)

    if (recorded := submitted(request, form, record)) is not None:
        return redirect("atp:reading", recorded.pk)
    states = point_states(turnaround, clean)
    meter, lot = kit.usual_meter, kit.usual_lot
    return page(
        request,
        "atp/readings/sample.html",
        form=form,
        room="sample",
        turnaround=turnaround,
        point=point,
        chosen=form.chosen(),
        meters=kit.meters,
        carried_limits=kit.carried_limits(),
        meter_ready=any(one.ready for one in kit.meters),
        lots=kit.lots,
        without_limits=meter is not None
        and lot is not None
        and (meter.pk, lot.atp_test_id) not in kit.judged,
        failed=kit.failed,
        due=due,
        at_its_moment=point.moment in (due.moment, SamplingMoment.UNKNOWN),
        usual_meter=meter,
        usual_lot=lot,
        lot_in_date=any(lot.expires_on >= day for lot in kit.lots),
        earlier=next((s.results for s in states if s.point.pk == point.pk), []),
        handling_steps=handling_steps(point),
        provenance=PROVENANCE,
        count_s=COUNT_S,
    )


def _other_moment(shown: Result) -> str:
    """The moment that a reading's point is sampled at, where it was taken at another; else ''."""
    point = shown.point
    unstated = point.moment == SamplingMoment.UNKNOWN
    return "" if unstated or point.moment == shown.moment else str(point.get_moment_display())


def _limits_source(limits: LimitSet) -> str:
    """Whose limits judged a reading, and who approved them."""
    where = limits.point.name if limits.point else limits.where
    signed = f" Approved by {limits.approval.printed_name}." if limits.approval else ""
    return f"Limits of {limits.meter.name} with {limits.atp_test.name} for {where}.{signed}"


@never_cache
def result(request: Request, pk: int) -> HttpResponse:
    """The verdict on one reading, and what to do next. For anyone to look at."""
    shown = get_object_or_404(for_result_pages(), pk=pk)
    due = _due(shown.turnaround)
    return page(
        request,
        "atp/readings/reading.html",
        arrival=arrivals_of("result", [shown.pk]).get(shown.pk),
        room="sample",
        result=shown,
        turnaround=shown.turnaround,
        other_moment=_other_moment(shown),
        limits_source=_limits_source(shown.limits) if shown.limits else "",
        replacement=getattr(shown, "corrected_by", None),
        counts=due["last_clean"] is not None and due["last_clean"].pk == shown.clean_id,
        earlier_over=[r for r in due["over"] if r.pk != shown.pk],
        correctable=shown.verdict != Verdict.ACTION or may(request.user, "decide_release"),
        **due,
    )


@never_cache
@permission_needed("work_cellar")
def correct_result(request: Request, pk: int) -> HttpResponse:
    """Correct a mistyped reading; the first one stays on record."""
    shown = get_object_or_404(for_result_pages(), pk=pk)
    over = shown.verdict == Verdict.ACTION
    signed = over and may(request.user, "decide_release")
    form = CorrectResultForm(sent(request), signed=signed)

    def correct(by: Actor) -> Result:
        password = form.cleaned_data.get("password", "")
        if signed:
            guard_password(request, password=password)
        return reading_actions.correct_result(
            by=by,
            result=shown,
            rlu=form.cleaned_data["rlu"],
            reason=form.cleaned_data["reason"],
            password=password,
        )

    if (corrected := submitted(request, form, correct)) is not None:
        return redirect("atp:reading", corrected.pk)
    return page(
        request,
        "atp/readings/correct.html",
        form=form,
        room="sample",
        result=shown,
        turnaround=shown.turnaround,
        may_not=over and not signed,
    )


@never_cache
def point(request: Request, code: str) -> HttpResponse:
    """The label at the tank: to the sample that is due, or why there is none."""
    points = SamplingPoint.objects.select_related("vessel")
    # A code has letters and digits; PostgreSQL takes no null byte in a text at all.
    found = points.filter(code__iexact=code).first() if code.isalnum() else None
    if found is None:
        unknown = "No sampling point has this label. Its vessel may be out of service."
        answer = _not_now(request, ("no_such_label", unknown))
        answer.status_code = 404
        return answer
    vessel = found.vessel
    turnaround = open_turnaround(vessel)
    about: dict[str, Any] = {"point": found, "vessel": vessel, "turnaround": turnaround}
    if not found.active:
        return _not_now(request, ("retired", f"{found.name} is retired."), **about)
    if turnaround is None:
        fill = contents_of(vessel)
        why = (
            ("in_use", f"{vessel.name} contains {fill.words}.")
            if fill
            else ("not_on_record", f"{vessel.name} has not been recorded as empty.")
        )
        return _not_now(request, why, **about)
    due = to_sample(turnaround)
    if due.not_now is not None:
        return _not_now(
            request, due.not_now, running=running_clean(turnaround), step=due.step, **about
        )
    if not may(request.user, "work_cellar"):
        return redirect("atp:samples", turnaround.pk)
    return redirect("atp:sample", turnaround.pk, found.pk)
