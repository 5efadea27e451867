"""Screens of the samples due after a clean, and of their results."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewhygiene.atp.limits.queries import limits_in_force
from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.atp.readings import actions as reading_actions
from brewhygiene.atp.readings.due import to_sample
from brewhygiene.atp.readings.forms import CorrectResultForm, SampleForm
from brewhygiene.atp.readings.handling import COUNT_S, PROVENANCE, reminders_for
from brewhygiene.atp.readings.queries import (
    Kit,
    for_result_pages,
    point_states,
    rinse_end_on_record,
    standing_actions,
)
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.people.models import User
from brewhygiene.people.permissions import may, permission_needed
from brewhygiene.people.requests import Request, actor_of, sent
from brewhygiene.people.signatures import guard_password
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.queries import contents_of, for_floor, open_turnaround, running_clean


def _due(turnaround: Turnaround) -> dict[str, Any]:
    """What is left to do with the samples of a turnaround, for the foot of each page."""
    now = to_sample(turnaround)
    states = point_states(turnaround, now.clean)
    return {
        "states": states,
        "required": sum(state.point.required_for_release for state in states),
        "next_due": next((state.point for state in states if state.due), None),
        "over": standing_actions(turnaround),
        "unjudged": [r for state in states for r in state.results if r.verdict == Verdict.UNJUDGED],
        "not_now": now.not_now,
        "last_clean": now.clean,
    }


@never_cache
def samples(request: Request, pk: int) -> HttpResponse:
    """The points of a cleaned vessel, one by one. For anyone to look at."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    context = {"room": "board", "turnaround": turnaround, **_due(turnaround)}
    return render(request, "atp/readings/samples.html", context)


def _not_now(
    request: Request, *, code: str, words: str, status: int = 200, **context: Any
) -> HttpResponse:
    """Why no sample is taken here now, with the way to what comes first."""
    context |= {"room": "board", "code": code, "words": words}
    return render(request, "atp/readings/not_now.html", context, status=status)


@never_cache
@permission_needed("work_cellar")
def sample(request: Request, pk: int, point_pk: int) -> HttpResponse:
    """Read one stick at one point, and be told the verdict."""
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
        code, words = due.not_now or ("not_cleaned", "")
        return _not_now(
            request,
            code=code,
            words=words,
            point=point,
            vessel=turnaround.vessel,
            turnaround=turnaround,
            running=running_clean(turnaround),
        )
    assert isinstance(request.user, User)
    day = brewery_day(timezone.now(), request.brewery)
    kit = Kit(user=request.user, point=point, day=day)
    form = SampleForm(
        sent(request),
        kit=kit,
        stages=due.stages,
        initial={
            "meter": lambda: kit.usual_meter,
            "test_lot": lambda: kit.usual_lot,
            "stage": due.usual_stage,
            "rinse_end": lambda: rinse_end_on_record(clean),
        },
    )
    if request.method == "POST" and form.is_valid():
        given = {k: v for k, v in form.cleaned_data.items() if k not in ("key", "client_time")}
        result = form.attempt(
            lambda: reading_actions.record_result(
                by=actor_of(request), turnaround=turnaround, point=point, **given
            )
        )
        if result is not None:
            return redirect("atp:result", result.pk)
    states = point_states(turnaround, clean)
    meter, lot = kit.usual_meter, kit.usual_lot
    context = {
        "room": "board",
        "turnaround": turnaround,
        "point": point,
        "form": form,
        "chosen": form.chosen(),
        "meters": kit.meters,
        "meter_ready": any(one.ready for one in kit.meters),
        "lots": kit.lots,
        "without_limits": meter is not None
        and lot is not None
        and limits_in_force(meter=meter, test_lot=lot, point=point, day=day) is None,
        "usual_meter": meter,
        "usual_lot": lot,
        "lot_in_date": any(lot.expires_on >= day for lot in kit.lots),
        "earlier": next((s.results for s in states if s.point.pk == point.pk), []),
        "reminders": reminders_for(point),
        "provenance": PROVENANCE,
        "count_s": COUNT_S,
    }
    return render(
        request, "atp/readings/sample.html", context, status=422 if form.is_bound else 200
    )


@never_cache
def result(request: Request, pk: int) -> HttpResponse:
    """The verdict on one reading, and what to do next. For anyone to look at."""
    shown = get_object_or_404(for_result_pages(), pk=pk)
    due = _due(shown.turnaround)
    context = {
        "room": "board",
        "result": shown,
        "turnaround": shown.turnaround,
        "replacement": getattr(shown, "corrected_by", None),
        "counts": due["last_clean"] is not None and due["last_clean"].pk == shown.clean_id,
        "earlier_over": [r for r in due["over"] if r.pk != shown.pk],
        "correctable": shown.verdict != Verdict.ACTION or may(request.user, "decide_release"),
        **due,
    }
    return render(request, "atp/readings/reading.html", context)


@never_cache
@permission_needed("work_cellar")
def correct_result(request: Request, pk: int) -> HttpResponse:
    """Set a mistyped reading right; the first one stays on record."""
    shown = get_object_or_404(for_result_pages(), pk=pk)
    over = shown.verdict == Verdict.ACTION
    signed = over and may(request.user, "decide_release")
    form = CorrectResultForm(sent(request), signed=signed)
    if request.method == "POST" and form.is_valid():

        def correct() -> Result:
            password = form.cleaned_data.get("password", "")
            if signed:
                guard_password(request, password=password)
            return reading_actions.correct_result(
                by=actor_of(request),
                result=shown,
                rlu=form.cleaned_data["rlu"],
                reason=form.cleaned_data["reason"],
                password=password,
            )

        corrected = form.attempt(correct)
        if corrected is not None:
            return redirect("atp:result", corrected.pk)
    context = {
        "room": "board",
        "result": shown,
        "turnaround": shown.turnaround,
        "form": form,
        "may_not": over and not signed,
    }
    return render(
        request, "atp/readings/correct.html", context, status=422 if form.is_bound else 200
    )


@never_cache
def point(request: Request, code: str) -> HttpResponse:
    """The label at the tank: to the sample that is due, or why there is none."""
    found = SamplingPoint.objects.select_related("vessel").filter(code__iexact=code).first()
    if found is None:
        return _not_now(
            request,
            code="no_such_label",
            words="No sampling point has this label. It may belong to a vessel that is gone.",
            status=404,
        )
    vessel = found.vessel
    turnaround = open_turnaround(vessel)
    about: dict[str, Any] = {"point": found, "vessel": vessel, "turnaround": turnaround}
    if not found.active:
        words = f"{found.name} is not sampled any more."
        return _not_now(request, code="out_of_use", words=words, **about)
    if turnaround is None:
        fill = contents_of(vessel)
        words = (
            f"{vessel.name} is in use: {fill.beer.name}, batch {fill.batch}."
            if fill
            else f"{vessel.name} is not on record as empty yet."
        )
        return _not_now(request, code="in_use" if fill else "not_on_record", words=words, **about)
    if (not_now := to_sample(turnaround).not_now) is not None:
        running = running_clean(turnaround)
        return _not_now(request, code=not_now[0], words=not_now[1], running=running, **about)
    if not may(request.user, "work_cellar"):
        return redirect("atp:samples", turnaround.pk)
    return redirect("atp:sample", turnaround.pk, found.pk)
