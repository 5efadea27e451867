"""The one screen of a step: safety, start, timer and readings, end, deviations."""

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from brewhygiene.brewery.models import Brewery
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, sent
from brewhygiene.regimes.conductivity.calibration import calibration_in_force, readable, warning_of
from brewhygiene.regimes.measures import site_label
from brewhygiene.regimes.models import Quantity, Step
from brewhygiene.turnarounds.forms import ReasonForm
from brewhygiene.turnarounds.models import Clean, Deviation, StepReading, StepRecord
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.quantities import CONDUCTIVITY, TITRATION, quantity_title
from brewhygiene.turnarounds.queries import (
    cleans_with_records,
    last_agent_lot,
    last_strength_reading,
    last_titration,
)
from brewhygiene.turnarounds.readings import actions as reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from brewhygiene.turnarounds.steps.forms import (
    STRAIGHT,
    WAYS,
    CorrectReadingForm,
    DisposeForm,
    EndForm,
    ReadingForm,
    SafetyForm,
)
from brewhygiene.turnarounds.steps.screen import StepScreen, step_screen
from brewhygiene.turnarounds.steps.sums import sums_of


def _screen(request: Request, pk: int, step_pk: int) -> StepScreen:
    clean = get_object_or_404(cleans_with_records(), pk=pk)
    brewery: Brewery = request.brewery
    try:
        return step_screen(clean, step_pk, brewery=brewery, now=timezone.now())
    except Step.DoesNotExist as error:
        raise Http404("That step belongs to another regime.") from error


def go_on(clean_pk: int) -> HttpResponse:
    """To the step that is on now, or to the end of the clean."""
    clean = get_object_or_404(cleans_with_records(), pk=clean_pk)
    current = progress_of(clean).current
    if not clean.running:
        return redirect("board:turnaround", clean.turnaround_id)
    if current is None:
        return redirect("turnarounds:finish", clean.pk)
    return redirect("turnarounds:step", clean.pk, current.step.pk)


def _reading_form(request: Request, screen: StepScreen, data: Any = None) -> ReadingForm | None:
    """The form of the quantity asked for, or of the first one unread; ``None`` when all are."""
    known = [code for code, _, _ in screen.quantities] + [c for c, _ in screen.other_quantities]
    asked = data.get("quantity", "") if data is not None else request.GET.get("read", "")
    unread = [code for code, _, read in screen.quantities if not read]
    if asked not in known:
        asked = unread[0] if unread else ""
    if not asked:
        return None
    record = screen.item.record
    if record is None:
        return None
    agent = screen.step.agent if asked == Quantity.CONCENTRATION else None
    by = data.get("by", "") if data is not None else request.GET.get("by", "")
    calibration = calibration_in_force(agent) if agent is not None else None
    by_meter = agent is not None and readable(agent, calibration)
    if agent is not None and by not in WAYS:
        latest = last_strength_reading(agent)
        kept = latest.titration if latest is not None else None
        by = kept.get("method", TITRATION) if kept else STRAIGHT
    if agent is None or (by == CONDUCTIVITY and not by_meter):
        by = STRAIGHT
    return ReadingForm(
        data,
        record=record,
        quantity=asked,
        way=by,
        calibration=calibration,
        readable=by_meter,
        warning=warning_of(agent) if agent is not None else "",
        window=next((t.window for t in screen.targets if t.window.quantity == asked), None),
        last=last_titration(agent) if by == TITRATION and agent is not None else None,
        brewery=request.brewery,
        auto_id="read_%s",
    )


def _attempt(screen: StepScreen, form: ActionForm) -> StepRecord:
    """The attempt that a form was shown for, though another may have begun since."""
    pk = form.cleaned_data["record"]
    found = next((attempt for attempt in screen.item.attempts if attempt.pk == pk), None)
    if found is None:
        raise Http404("That attempt belongs to another step.")
    return found


def _show(
    request: Request,
    screen: StepScreen,
    *,
    reading_form: ReadingForm | None = None,
    latest: StepReading | None = None,
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    """The step's page, or the readings alone where the page asks for them."""
    if screen.state == "running" and reading_form is None:
        reading_form = _reading_form(request, screen)
    latest_pk = str(latest.pk) if latest else request.GET.get("latest", "")
    context = {
        "room": "board",
        "screen": screen,
        "reading_form": reading_form,
        "latest": next((x for x in screen.lines if str(x.reading.pk) == latest_pk), None),
        "key_form": ActionForm(auto_id="start_%s"),
        "sums": sums_of(screen, request.GET, brewery=request.brewery),
        **more,
    }
    only_readings = request.htmx and screen.state == "running"
    template = "_readings" if only_readings else "step"
    response = render(request, f"turnarounds/steps/{template}.html", context, status=status)
    patch_vary_headers(response, ["HX-Request"])
    return response


@never_cache
def step(request: Request, pk: int, step_pk: int) -> HttpResponse:
    """One step: what is to be done with it now. The owner sees it and changes nothing."""
    screen = _screen(request, pk, step_pk)
    more: dict[str, Any] = {}
    if screen.is_current and screen.unchecked and screen.state in ("next", "again"):
        more["safety_form"] = SafetyForm(cautions=screen.cautions)
    if screen.is_current and screen.state == "deviation":
        deviation = screen.undecided[0]
        more["deviation"] = deviation
        more["dispose_form"] = DisposeForm(deviation=deviation, running=False)
    return _show(request, screen, **more)


@require_POST
@permission_needed("work_cellar")
def safety(request: Request, pk: int, step_pk: int) -> HttpResponse:
    screen = _screen(request, pk, step_pk)
    form = SafetyForm(request.POST, cautions=screen.cautions)
    if form.is_valid():
        done = form.attempt(
            lambda: step_actions.acknowledge_safety(
                by=actor_of(request),
                clean=screen.clean,
                step=screen.step,
                codes=form.cleaned_data["codes"],
            )
        )
        if done is not None:
            return redirect("turnarounds:step", pk, step_pk)
    return _show(request, screen, safety_form=form, status=422)


@require_POST
@permission_needed("work_cellar")
def start(request: Request, pk: int, step_pk: int) -> HttpResponse:
    screen = _screen(request, pk, step_pk)
    form = ActionForm(request.POST, auto_id="start_%s")
    if form.is_valid():
        record = form.attempt(
            lambda: step_actions.start_step(
                by=actor_of(request), clean=screen.clean, step=screen.step
            )
        )
        if record is not None:
            return redirect("turnarounds:step", pk, step_pk)
    return _show(request, screen, key_form=form, status=422)


@never_cache
@permission_needed("work_cellar")
def read(request: Request, pk: int, step_pk: int) -> HttpResponse:
    """Take a reading; answers with the readings alone, or goes back to the step."""
    here = reverse("turnarounds:step", args=[pk, step_pk])
    if request.method != "POST":
        return redirect(here)
    screen = _screen(request, pk, step_pk)
    form = _reading_form(request, screen, request.POST)
    if form is None:
        return redirect(here)
    if form.is_valid():
        record = _attempt(screen, form)
        reading = form.attempt(
            lambda: reading_actions.record_reading(
                by=actor_of(request),
                record=record,
                quantity=form.asked_quantity,
                **form.values(),
            )
        )
        if reading is not None and request.htmx:
            return _show(request, _screen(request, pk, step_pk), latest=reading)
        if reading is not None:
            sums = sums_of(screen, request.GET, brewery=request.brewery)
            return redirect(f"{here}?latest={reading.pk}{sums.carried}#readings")
    return _show(request, screen, reading_form=form, status=422)


@never_cache
@permission_needed("work_cellar")
def end(request: Request, pk: int, step_pk: int) -> HttpResponse:
    screen = _screen(request, pk, step_pk)
    latest, chosen = screen.item.record, screen.step
    if latest is None:
        return redirect("turnarounds:step", pk, step_pk)
    if request.method != "POST" and screen.state != "running":
        return go_on(pk)
    lot = last_agent_lot(chosen.agent) if chosen.agent is not None else ""
    form = EndForm(sent(request), record=latest, step=chosen, initial={"agent_lot": lot})
    if request.method == "POST" and form.is_valid():
        record = _attempt(screen, form)
        values = {name: form.cleaned_data.get(name) for name in ("end_criterion_met", "minutes")}
        ended = form.attempt(
            lambda: step_actions.end_step(
                by=actor_of(request),
                record=record,
                agent_lot=form.cleaned_data.get("agent_lot", ""),
                note=form.cleaned_data["note"],
                **values,
            )
        )
        if ended is not None:
            return go_on(pk)
    context = {"room": "board", "screen": screen, "form": form}
    return render(
        request, "turnarounds/steps/end.html", context, status=422 if form.is_bound else 200
    )


@permission_needed("work_cellar")
def leave_out(request: Request, pk: int, step_pk: int) -> HttpResponse:
    screen = _screen(request, pk, step_pk)
    form = ReasonForm(sent(request), label="Why it is left out")
    if request.method == "POST" and form.is_valid():
        left_out = form.attempt(
            lambda: step_actions.leave_out_step(
                by=actor_of(request),
                clean=screen.clean,
                step=screen.step,
                reason=form.cleaned_data["reason"],
            )
        )
        if left_out is not None:
            return go_on(pk)
    context = {"room": "board", "screen": screen, "form": form}
    status = 422 if form.is_bound else 200
    return render(request, "turnarounds/steps/leave_out.html", context, status=status)


@never_cache
@permission_needed("work_cellar")
def dispose(request: Request, pk: int) -> HttpResponse:
    """Decide on one deviation, while its step runs or after."""
    deviation = get_object_or_404(
        Deviation.objects.select_related("record__clean", "record__step"), pk=pk
    )
    record = deviation.record
    screen = _screen(request, record.clean_id, record.step_id)
    if request.method != "POST" and (deviation.disposition or not screen.clean.running):
        return go_on(record.clean_id)
    form = DisposeForm(sent(request), deviation=deviation, running=screen.state == "running")
    if request.method == "POST" and form.is_valid():
        decided = form.attempt(
            lambda: step_actions.dispose_deviation(
                by=actor_of(request),
                deviation=deviation,
                disposition=form.cleaned_data["disposition"],
                reason=form.cleaned_data["reason"],
            )
        )
        if decided is not None:
            return go_on(record.clean_id)
    context = {
        "room": "board",
        "screen": screen,
        "deviation": deviation,
        "dispose_form": form,
        "sums": sums_of(screen, request.GET, brewery=request.brewery),
    }
    status = 422 if form.is_bound else 200
    return render(request, "turnarounds/steps/deviation.html", context, status=status)


@permission_needed("work_cellar")
def correct_reading(request: Request, pk: int) -> HttpResponse:
    """Set a mistyped reading right; the first one stays on record."""
    reading = get_object_or_404(
        StepReading.objects.select_related(
            "record__clean__turnaround__vessel", "record__step", "taken_by"
        ),
        pk=pk,
    )
    clean: Clean = reading.record.clean
    brewery: Brewery = request.brewery
    form = CorrectReadingForm(sent(request), reading=reading, brewery=brewery)
    if request.method == "POST" and form.is_valid():
        corrected = form.attempt(
            lambda: reading_actions.correct_reading(
                by=actor_of(request),
                reading=reading,
                value=form.stored_value(),
                reason=form.cleaned_data["reason"],
            )
        )
        if corrected is not None:
            here = reverse("turnarounds:step", args=[clean.pk, reading.record.step_id])
            return redirect(f"{here}?latest={corrected.pk}#readings")
    context = {
        "room": "board",
        "reading": reading,
        "clean": clean,
        "form": form,
        "title": quantity_title(reading.quantity, reading.typed),
        "unit": site_label(quantity=reading.quantity, basis=reading.basis, brewery=brewery),
    }
    status = 422 if form.is_bound else 200
    return render(request, "turnarounds/steps/correct_reading.html", context, status=status)
