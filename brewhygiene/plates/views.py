"""Plates: due, sent, read."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.plates import actions
from brewhygiene.plates.forms import SendForm
from brewhygiene.plates.growth import dish_words, dishes_of, growth_of
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.plates.neutralisers import taken_in
from brewhygiene.plates.queries import (
    corrections_of,
    fills_at_risk,
    last_dish_at,
    lines_of,
    plates_for_pages,
    positive_lines,
    settled_plates,
    waiting_plates,
)
from brewhygiene.plates.questions import at_risk_of
from brewhygiene.plates.reading_forms import ROWS, ReadForm, as_typed, asked_rows
from brewhygiene.plates.seen import MOST_DISHES
from brewhygiene.quantities.style import shown_moment
from brewhygiene.turnarounds.queries import for_floor

READ_A_PAGE = 20


def due(request: Request) -> HttpResponse:
    """Every plate: open positives, those in incubation by their due day, those read."""
    shown = Paginator(settled_plates(), READ_A_PAGE).get_page(request.GET.get("page"))
    return page(
        request,
        "plates/due.html",
        room="plates",
        positive=positive_lines(),
        waiting=waiting_plates(),
        page=shown,
        settled=lines_of(shown.object_list),
        today=timezone.localdate(),
    )


@permission_needed("work_cellar")
def send(request: Request, pk: int) -> HttpResponse:
    """Send a sample of a vessel to be incubated."""
    turnaround = get_object_or_404(for_floor(), pk=pk)
    vessel = turnaround.vessel
    form = SendForm(
        sent(request),
        vessel=vessel,
        brewery=request.brewery,
        inside=taken_in(turnaround, timezone.now()),
    )

    def act(by: Actor) -> Plate:
        degrees, days = form.incubation
        return actions.send_plate(
            by=by,
            turnaround=turnaround,
            point=form.cleaned_data["point"],
            medium=form.medium_name,
            neutraliser=form.cleaned_data["neutraliser"],
            incubation_c=degrees,
            incubation_days=days,
            taken_at=form.taken_or(by.now),
            suspension_ml=form.cleaned_data.get("suspension_ml"),
            area_cm2=form.cleaned_data.get("area_cm2"),
        )

    plate = submitted(
        request,
        form,
        act,
        said=lambda p: f"Plate sent. Read it on {shown_moment(p.due_on, 'l j F')}.",
    )
    if plate is not None:
        return redirect("plates:plate", plate.pk)
    return page(
        request,
        "plates/send.html",
        form=form,
        room="plates",
        turnaround=turnaround,
        vessel=vessel,
        has_points=vessel.points.filter(active=True).exists(),
    )


def about(plate: Plate) -> dict[str, Any]:
    """What a plate's page shows. 4 queries at most for a plate that came with its dishes."""
    positive = plate.state == PlateState.POSITIVE
    return {
        "room": "plates",
        "plate": plate,
        "growth": growth_of(plate),
        "dishes": dish_words(dishes_of(plate)),
        "today": timezone.localdate(),
        "at_risk": fills_at_risk(plate) if positive else [],
        "held": at_risk_of([plate]).get(plate.pk, ()) if positive else [],
    }


def plate(request: Request, pk: int) -> HttpResponse:
    """One plate, and what follows from it."""
    found = get_object_or_404(plates_for_pages(), pk=pk)
    return page(request, "plates/plate.html", **about(found), corrections=corrections_of(found))


def more_rows(request: Request) -> int:
    """How many dishes to offer where more were requested, or 0."""
    return min(asked_rows(request.POST) + ROWS, MOST_DISHES) if "more" in request.POST else 0


@permission_needed("read_plates")
def read(request: Request, pk: int) -> HttpResponse:
    """Record what grew."""
    found = get_object_or_404(plates_for_pages(), pk=pk)
    more = more_rows(request)
    rows = more or asked_rows(request.POST)
    if request.method != "POST":
        last = last_dish_at(found)
        form = ReadForm(initial=as_typed(last) if last else None, rows=rows)
    elif more:
        form = ReadForm(initial=request.POST.dict(), rows=rows)
    else:
        form = ReadForm(sent(request), rows=rows)
    done = submitted(
        request, form, lambda by: actions.read_plate(by=by, plate=found, **form.seen())
    )
    if done is None:
        return page(request, "plates/read.html", form=form, **about(found))
    if done.open_positive:
        messages.warning(request, f"Positive: {done.vessel.name} is held.")
    else:
        messages.success(request, "Reading recorded: negative.")
    return redirect("plates:plate", done.pk)
