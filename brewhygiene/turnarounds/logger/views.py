"""Screens of a clean's logger files: send one, tell its columns, look at it, write readings."""

from typing import Any, BinaryIO, cast

from django.core.exceptions import PermissionDenied
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import WHAT_IT_TAKES, may, permission_needed
from brewhygiene.people.requests import Request, sent
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
        raise Http404("The file is missing from the storage.") from None


@never_cache
def logger_files(request: Request, pk: int) -> HttpResponse:
    """A clean's logger files, and the form to send one. For anyone to look at."""
    clean = get_object_or_404(cleans_with_records(), pk=pk)
    if request.method == "POST" and not may(request.user, "work_cellar"):
        raise PermissionDenied(WHAT_IT_TAKES["work_cellar"])
    form = UploadForm(
        sent(request),
        request.FILES or None,
        clean=clean,
        brewery=request.brewery,
        remembered=remembered_mappings(),
    )
    kept = submitted(
        request,
        form,
        lambda by: actions.upload_logger_file(by=by, clean=clean, read=form.read(now=by.now)),
    )
    if kept is not None:
        to = "logger_file" if kept.evaluation["checked"] else "logger_file_columns"
        return redirect(f"turnarounds:{to}", kept.pk)
    return page(
        request,
        "turnarounds/logger/files.html",
        form=form,
        room="board",
        clean=clean,
        logger_files=logger_files_of(clean),
    )


@never_cache
@permission_needed("work_cellar")
def columns(request: Request, pk: int) -> HttpResponse:
    """Say what each column of a file is; the file is read anew by it."""
    logger_file = _logger_file(pk)
    with _opened(logger_file) as file:
        dialect = sniff_file(file)
        form = ColumnsForm(
            sent(request),
            dialect=dialect,
            mapping=from_json(logger_file.mapping),
            remembered_as=logger_file.evaluation["remembered_as"],
        )
        done = submitted(
            request,
            form,
            lambda by: actions.map_logger_file(
                by=by,
                logger_file=logger_file,
                columns=form.columns(),
                evaluation=form.evaluate(
                    file,
                    clean=cleans_with_records().get(pk=logger_file.clean_id),
                    brewery=request.brewery,
                    now=by.now,
                ),
            ),
        )
    if done is not None:
        return redirect("turnarounds:logger_file", pk)
    return page(
        request,
        "turnarounds/logger/columns.html",
        form=form,
        room="board",
        logger_file=logger_file,
        clean=logger_file.clean,
        dialect=dialect,
        rows=dialect.sample[:5],
        doubts=() if logger_file.evaluation["checked"] else propose(dialect).doubts,
    )


def _page(
    request: Request,
    logger_file: LoggerFile,
    *,
    placing: PlacingForm | None = None,
    writing: WriteForm | None = None,
    found: LoggerEvidence | None = None,
) -> HttpResponse:
    brewery = request.brewery
    found = found or logger_file_evidence(logger_file, brewery=brewery, now=timezone.now())
    screen = logger_file_screen(found, brewery=brewery)
    return page(
        request,
        "turnarounds/logger/file.html",
        form=placing or writing,
        room="board",
        logger_file=logger_file,
        clean=found.clean,
        screen=screen,
        placing=placing or _placing_form(found, screen.clock),
        writing=writing or WriteForm(steps=list(found.steps), initial={"seen": screen.seen}),
    )


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
    shown, now = _logger_file(pk), timezone.now()
    found = logger_file_evidence(shown, brewery=request.brewery, now=now)
    clock = clock_of_logger_file(shown.evaluation, request.brewery)
    form = _placing_form(found, clock, request.POST)

    def placed() -> dict[str, Any]:
        with _opened(shown) as file:
            return place_steps(
                shown.evaluation,
                file,
                clean=found.clean,
                mapping=from_json(shown.mapping),
                dialect=sniff_file(file),
                now=now,
                choices=form.choices(),
                starts_at=form.starts(),
                rinse_end_ms_cm=form.cleaned_data["rinse_end_ms_cm"],
            )

    done = submitted(
        request,
        form,
        lambda by: actions.place_logger_file(by=by, logger_file=shown, evaluation=placed()),
    )
    if done is not None:
        return redirect("turnarounds:logger_file", pk)
    return _page(request, shown, placing=form, found=found)


@require_POST
@permission_needed("work_cellar")
def write(request: Request, pk: int) -> HttpResponse:
    """Write what a file shows into the chosen steps."""
    shown = _logger_file(pk)
    found = logger_file_evidence(shown, brewery=request.brewery, now=timezone.now())
    form = WriteForm(request.POST, steps=list(found.steps))
    done = submitted(
        request,
        form,
        lambda by: actions.write_logger_file_readings(
            by=by,
            logger_file=shown,
            records=[
                step.attempt.record
                for step in found.steps
                if step.attempt.record.pk in form.cleaned_data["records"]
            ],
            seen=form.cleaned_data["seen"],
        ),
        said="Readings recorded. Decide on each reading outside its window.",
    )
    if done is not None:
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
