"""Screens of a clean's logger files: send one, tell its columns, look at it, write readings."""

from typing import Any, BinaryIO, cast

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from brewhygiene.people.permissions import WHAT_IT_TAKES, may, permission_needed
from brewhygiene.people.requests import Request, actor_of, sent
from brewhygiene.science.logger.mapping import from_json, propose
from brewhygiene.science.logger.reading import sniff_file
from brewhygiene.turnarounds.logger import actions
from brewhygiene.turnarounds.logger.evaluation import place_steps
from brewhygiene.turnarounds.logger.evidence import LoggerEvidence, logger_file_evidence
from brewhygiene.turnarounds.logger.forms import ColumnsForm, PlacingForm, UploadForm, WriteForm
from brewhygiene.turnarounds.logger.placing import phases_of
from brewhygiene.turnarounds.logger.queries import logger_files_of, remembered_mappings
from brewhygiene.turnarounds.logger.screen import logger_file_screen
from brewhygiene.turnarounds.logger.words import LoggerClock, clock_of_logger_file
from brewhygiene.turnarounds.models import LoggerFile
from brewhygiene.turnarounds.queries import cleans_with_records


def _logger_file(pk: int) -> LoggerFile:
    return get_object_or_404(
        LoggerFile.objects.select_related("clean__turnaround__vessel", "uploaded_by"), pk=pk
    )


def _opened(logger_file: LoggerFile) -> BinaryIO:
    try:
        return cast("BinaryIO", logger_file.file.open("rb").file)
    except FileNotFoundError:
        raise Http404("The file is no longer where it was kept.") from None


@never_cache
def logger_files(request: Request, pk: int) -> HttpResponse:
    """A clean's logger files, and the form to send one. For anyone to look at."""
    clean = get_object_or_404(cleans_with_records(), pk=pk)
    if request.method == "POST" and not may(request.user, "work_cellar"):
        raise PermissionDenied(WHAT_IT_TAKES["work_cellar"])
    form = UploadForm(sent(request), request.FILES or None)
    if request.method == "POST" and form.is_valid():
        by = actor_of(request)
        read = form.read(
            clean=clean,
            brewery=request.brewery,
            now=by.now,
            remembered=remembered_mappings(),
        )
        if read is not None:
            kept = form.attempt(lambda: actions.upload_logger_file(by=by, clean=clean, read=read))
            if kept is not None:
                to = "logger_file" if kept.evaluation["checked"] else "logger_file_columns"
                return redirect(f"turnarounds:{to}", kept.pk)
    context = {
        "room": "board",
        "clean": clean,
        "form": form,
        "logger_files": logger_files_of(clean),
    }
    status = 422 if form.is_bound else 200
    return render(request, "turnarounds/logger/files.html", context, status=status)


@never_cache
@permission_needed("work_cellar")
def columns(request: Request, pk: int) -> HttpResponse:
    """Tell what each column of a file is; the file is read anew by it."""
    logger_file = _logger_file(pk)
    with _opened(logger_file) as file:
        dialect, mapping = sniff_file(file), from_json(logger_file.mapping)
        form = ColumnsForm(
            sent(request),
            dialect=dialect,
            mapping=mapping,
            remembered_as=logger_file.evaluation["remembered_as"],
        )
        if request.method == "POST" and form.is_valid():
            by = actor_of(request)
            evaluation = form.evaluate(
                file,
                clean=cleans_with_records().get(pk=logger_file.clean_id),
                brewery=request.brewery,
                now=by.now,
            )
            if evaluation is not None:
                done = form.attempt(
                    lambda: actions.map_logger_file(
                        by=by,
                        logger_file=logger_file,
                        columns=form.columns(),
                        evaluation=evaluation,
                    )
                )
                if done is not None:
                    return redirect("turnarounds:logger_file", pk)
    context = {
        "room": "board",
        "logger_file": logger_file,
        "clean": logger_file.clean,
        "form": form,
        "dialect": dialect,
        "rows": dialect.sample[:5],
        "doubts": () if logger_file.evaluation["checked"] else propose(dialect).doubts,
    }
    status = 422 if form.is_bound else 200
    return render(request, "turnarounds/logger/columns.html", context, status=status)


def _page(
    request: Request,
    logger_file: LoggerFile,
    *,
    placing: PlacingForm | None = None,
    writing: WriteForm | None = None,
    found: LoggerEvidence | None = None,
) -> HttpResponse:
    brewery, now = request.brewery, timezone.now()
    found = found or logger_file_evidence(logger_file, brewery=brewery, now=now)
    screen = logger_file_screen(found, brewery=brewery)
    context = {
        "room": "board",
        "logger_file": logger_file,
        "clean": found.clean,
        "screen": screen,
        "placing": placing or _placing_form(found, screen.clock),
        "writing": writing or WriteForm(steps=list(found.steps), initial={"seen": screen.seen}),
    }
    status = 422 if placing or writing else 200
    return render(request, "turnarounds/logger/file.html", context, status=status)


def _placing_form(found: LoggerEvidence, clock: LoggerClock, data: Any = None) -> PlacingForm:
    evaluation = found.logger_file.evaluation
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
def logger_file(request: Request, pk: int) -> HttpResponse:
    """What a file shows of its clean. For anyone to look at."""
    return _page(request, _logger_file(pk))


@require_POST
@permission_needed("work_cellar")
def place(request: Request, pk: int) -> HttpResponse:
    """Say which stretch of a file belongs to which step, and read it anew."""
    shown, by = _logger_file(pk), actor_of(request)
    brewery = request.brewery
    found = logger_file_evidence(shown, brewery=brewery, now=by.now)
    form = _placing_form(found, clock_of_logger_file(shown.evaluation, brewery), request.POST)
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
            lambda: actions.place_logger_file(by=by, logger_file=shown, evaluation=evaluation)
        )
        if done is not None:
            return redirect("turnarounds:logger_file", pk)
    return _page(request, shown, placing=form, found=found)


@require_POST
@permission_needed("work_cellar")
def write(request: Request, pk: int) -> HttpResponse:
    """Write what a file shows into the chosen steps."""
    shown, by = _logger_file(pk), actor_of(request)
    found = logger_file_evidence(shown, brewery=request.brewery, now=by.now)
    form = WriteForm(request.POST, steps=list(found.steps))
    if form.is_valid():
        chosen = set(form.cleaned_data["records"])
        done = form.attempt(
            lambda: actions.write_logger_file_readings(
                by=by,
                logger_file=shown,
                records=[
                    step.attempt.record for step in found.steps if step.attempt.record.pk in chosen
                ],
                seen=form.cleaned_data["seen"],
            )
        )
        if done is not None:
            messages.success(
                request, "Recorded. Readings outside their windows wait for a decision."
            )
            return redirect("turnarounds:clean", shown.clean_id)
    return _page(request, shown, writing=form, found=found)


@never_cache
def file(request: Request, pk: int) -> FileResponse:
    """The file as it came, to be kept elsewhere. For anyone signed in."""
    shown = _logger_file(pk)
    _opened(shown).close()
    return FileResponse(
        shown.file.open("rb"),
        as_attachment=True,
        filename=shown.original_name,
        content_type="application/octet-stream",
    )
