"""Screens of a clean's logger files: send one, tell its columns, look at it, write readings."""

from typing import Any, BinaryIO, cast

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from brewhygiene.people.permissions import WHAT_IT_TAKES, may, permission_needed
from brewhygiene.people.requests import actor_of, sent
from brewhygiene.science.traces.mapping import from_json, propose
from brewhygiene.science.traces.reading import sniff_file
from brewhygiene.turnarounds import trace_actions
from brewhygiene.turnarounds.models import Trace
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.trace_evaluation import place_steps
from brewhygiene.turnarounds.trace_evidence import TraceEvidence, trace_evidence
from brewhygiene.turnarounds.trace_forms import ColumnsForm, PlacingForm, UploadForm, WriteForm
from brewhygiene.turnarounds.trace_placing import phases_of
from brewhygiene.turnarounds.trace_queries import remembered_mappings, traces_of
from brewhygiene.turnarounds.trace_screen import trace_screen
from brewhygiene.turnarounds.trace_words import TraceClock, clock_of_trace


def _trace(pk: int) -> Trace:
    return get_object_or_404(
        Trace.objects.select_related("clean__turnaround__vessel", "uploaded_by"), pk=pk
    )


def _opened(trace: Trace) -> BinaryIO:
    try:
        return cast("BinaryIO", trace.file.open("rb").file)
    except FileNotFoundError:
        raise Http404("The file is no longer where it was kept.") from None


@never_cache
def traces(request: HttpRequest, pk: int) -> HttpResponse:
    """A clean's logger files, and the form to send one. For anyone to look at."""
    clean = get_object_or_404(cleans_with_records(), pk=pk)
    if request.method == "POST" and not may(request.user, "work_cellar"):
        raise PermissionDenied(WHAT_IT_TAKES["work_cellar"])
    form = UploadForm(sent(request), request.FILES or None)
    if request.method == "POST" and form.is_valid():
        by = actor_of(request)
        read = form.read(
            clean=clean,
            brewery=request.brewery,  # type: ignore[attr-defined]
            now=by.now,
            remembered=remembered_mappings(),
        )
        if read is not None:
            kept = form.attempt(lambda: trace_actions.upload_trace(by=by, clean=clean, read=read))
            if kept is not None:
                to = "trace" if kept.evaluation["checked"] else "trace_columns"
                return redirect(f"turnarounds:{to}", kept.pk)
    context = {"room": "board", "clean": clean, "form": form, "traces": traces_of(clean)}
    status = 422 if form.is_bound else 200
    return render(request, "turnarounds/traces.html", context, status=status)


@never_cache
@permission_needed("work_cellar")
def columns(request: HttpRequest, pk: int) -> HttpResponse:
    """Tell what each column of a file is; the file is read anew by it."""
    trace = _trace(pk)
    with _opened(trace) as file:
        dialect, mapping = sniff_file(file), from_json(trace.mapping)
        form = ColumnsForm(
            sent(request),
            dialect=dialect,
            mapping=mapping,
            remembered_as=trace.evaluation["remembered_as"],
        )
        if request.method == "POST" and form.is_valid():
            by = actor_of(request)
            evaluation = form.evaluate(
                file,
                clean=cleans_with_records().get(pk=trace.clean_id),
                brewery=request.brewery,  # type: ignore[attr-defined]
                now=by.now,
            )
            if evaluation is not None:
                done = form.attempt(
                    lambda: trace_actions.map_trace(
                        by=by, trace=trace, columns=form.columns(), evaluation=evaluation
                    )
                )
                if done is not None:
                    return redirect("turnarounds:trace", pk)
    context = {
        "room": "board",
        "trace": trace,
        "clean": trace.clean,
        "form": form,
        "dialect": dialect,
        "rows": dialect.sample[:5],
        "doubts": () if trace.evaluation["checked"] else propose(dialect).doubts,
    }
    status = 422 if form.is_bound else 200
    return render(request, "turnarounds/trace_columns.html", context, status=status)


def _page(
    request: HttpRequest,
    trace: Trace,
    *,
    placing: PlacingForm | None = None,
    writing: WriteForm | None = None,
    found: TraceEvidence | None = None,
) -> HttpResponse:
    brewery, now = request.brewery, timezone.now()  # type: ignore[attr-defined]
    found = found or trace_evidence(trace, brewery=brewery, now=now)
    screen = trace_screen(found, brewery=brewery)
    context = {
        "room": "board",
        "trace": trace,
        "clean": found.clean,
        "screen": screen,
        "placing": placing or _placing_form(found, screen.clock),
        "writing": writing or WriteForm(steps=list(found.steps), initial={"seen": screen.seen}),
    }
    status = 422 if placing or writing else 200
    return render(request, "turnarounds/trace.html", context, status=status)


def _placing_form(found: TraceEvidence, clock: TraceClock, data: Any = None) -> PlacingForm:
    evaluation = found.trace.evaluation
    return PlacingForm(
        data,
        attempts=[step.attempt for step in found.steps],
        phases=phases_of(evaluation),
        clock=clock,
        kept={kept["record"]: kept["choice"] for kept in evaluation["steps"]},
        initial={
            "starts_at": clock.starts_at,
            "rinse_end_ms_cm": evaluation["rinse_end_ms_cm"],
        },
        auto_id="place_%s",
    )


@never_cache
def trace(request: HttpRequest, pk: int) -> HttpResponse:
    """What a file shows of its clean. For anyone to look at."""
    return _page(request, _trace(pk))


@require_POST
@permission_needed("work_cellar")
def place(request: HttpRequest, pk: int) -> HttpResponse:
    """Say which stretch of a file belongs to which step, and read it anew."""
    shown, by = _trace(pk), actor_of(request)
    brewery = request.brewery  # type: ignore[attr-defined]
    found = trace_evidence(shown, brewery=brewery, now=by.now)
    form = _placing_form(found, clock_of_trace(shown.evaluation, brewery), request.POST)
    if form.is_valid():
        with _opened(shown) as file:
            evaluation = place_steps(
                shown.evaluation,
                file,
                clean=found.clean,
                mapping=from_json(shown.mapping),
                dialect=sniff_file(file),
                now=by.now,
                choices=form.choices(),
                starts_at=form.starts(),
                rinse_end_ms_cm=form.cleaned_data["rinse_end_ms_cm"],
            )
        done = form.attempt(
            lambda: trace_actions.place_trace(by=by, trace=shown, evaluation=evaluation)
        )
        if done is not None:
            return redirect("turnarounds:trace", pk)
    return _page(request, shown, placing=form, found=found)


@require_POST
@permission_needed("work_cellar")
def write(request: HttpRequest, pk: int) -> HttpResponse:
    """Write what a file shows into the chosen steps."""
    shown, by = _trace(pk), actor_of(request)
    found = trace_evidence(shown, brewery=request.brewery, now=by.now)  # type: ignore[attr-defined]
    form = WriteForm(request.POST, steps=list(found.steps))
    if form.is_valid():
        chosen = set(form.cleaned_data["records"])
        done = form.attempt(
            lambda: trace_actions.write_trace_readings(
                by=by,
                trace=shown,
                records=[
                    step.attempt.record for step in found.steps if step.attempt.record.pk in chosen
                ],
                seen=form.cleaned_data["seen"],
            )
        )
        if done is not None:
            messages.success(
                request, "Written. Readings outside their windows wait for a decision."
            )
            return redirect("turnarounds:clean", shown.clean_id)
    return _page(request, shown, writing=form, found=found)


@never_cache
def file(request: HttpRequest, pk: int) -> FileResponse:
    """The file as it came, to be kept elsewhere. For anyone signed in."""
    shown = _trace(pk)
    _opened(shown).close()
    return FileResponse(
        shown.file.open("rb"),
        as_attachment=True,
        filename=shown.original_name,
        content_type="application/octet-stream",
    )
