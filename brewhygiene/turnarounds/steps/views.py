"""The one screen of a step: safety, start, timer and readings, end, deviations."""

from functools import partial
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from brewhygiene.delivery.late import typed_at
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import may, permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.regimes.models import Step
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import (
    StepReading,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.observations.asked import asked_observations
from brewhygiene.turnarounds.progress import asked_quantities, progress_of
from brewhygiene.turnarounds.quantities import quantity_title
from brewhygiene.turnarounds.queries import (
    cleans_with_records,
    last_agent_lot,
)
from brewhygiene.turnarounds.readings import actions as reading_actions
from brewhygiene.turnarounds.reason_page import reason_page
from brewhygiene.turnarounds.steps import actions as step_actions
from brewhygiene.turnarounds.steps.end_form import end_form_of
from brewhygiene.turnarounds.steps.forms import (
    CorrectReadingForm,
    DisposeForm,
    ReadingForm,
    SafetyForm,
)
from brewhygiene.turnarounds.steps.names import stated_of
from brewhygiene.turnarounds.steps.reading_form import reading_form_of
from brewhygiene.turnarounds.steps.screen import StepScreen, ahead_of_its_turn, step_screen
from brewhygiene.turnarounds.steps.solutions.forms import offer_on, start_form
from brewhygiene.turnarounds.steps.starting.after_checks import start_after_checks
from brewhygiene.turnarounds.steps.starting.after_end import go_on
from brewhygiene.turnarounds.steps.state_form import StateForm
from brewhygiene.turnarounds.steps.sums import sums_of


def screen_of(request: Request, pk: int, step_pk: int) -> StepScreen:
    clean = get_object_or_404(cleans_with_records(), pk=pk)
    try:
        return step_screen(clean, step_pk, brewery=request.brewery, now=timezone.now())
    except Step.DoesNotExist as error:
        raise Http404("That step belongs to another regime.") from error


def to_current_step(clean_pk: int) -> HttpResponse:
    """To the step that is on now, or to the end of the clean."""
    clean = get_object_or_404(cleans_with_records(), pk=clean_pk)
    current = progress_of(clean).current
    if not clean.running:
        return redirect("board:turnaround", clean.turnaround_id)
    if current is None:
        return redirect("turnarounds:finish", clean.pk)
    return redirect("turnarounds:step", clean.pk, current.step.pk)


@never_cache
def current_step(request: Request, pk: int) -> HttpResponse:
    """One tap from the board into the step that is on."""
    return to_current_step(pk)


def _attempt(screen: StepScreen, form: ActionForm) -> StepRecord:
    """The attempt that a form was shown for, though another may have begun since."""
    pk = form.cleaned_data["record"]
    found = next((attempt for attempt in screen.item.attempts if attempt.pk == pk), None)
    if found is None:
        raise Http404("That attempt belongs to another step.")
    return found


def show(
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
        reading_form = reading_form_of(request, screen)
    # Once all is read the step ends on its own screen.
    ends_here = (
        screen.state == "running"
        and reading_form is None
        and not screen.unread
        and may(request.user, "work_cellar")
    )
    if ends_here:
        more.setdefault("end_form", end_form_of(request, screen, None))
    latest_pk = str(latest.pk) if latest else request.GET.get("latest", "")
    context = {
        "room": "board",
        "screen": screen,
        "reading_form": reading_form,
        "latest": next((x for x in screen.lines if str(x.reading.pk) == latest_pk), None),
        "key_form": more.pop("key_form", None) or start_form(screen, now=timezone.now()),
        "flow_form": ActionForm(auto_id="flow_%s"),
        "sums": sums_of(screen, request.GET, brewery=request.brewery),
        "stated": stated_of(screen),
        **more,
    }
    only_readings = request.htmx and screen.state == "running"
    context["swapped"] = only_readings
    template = "readings/_readings" if only_readings else "step"
    response = render(request, f"turnarounds/steps/{template}.html", context, status=status)
    patch_vary_headers(response, ["HX-Request"])
    return response


@never_cache
def step(request: Request, pk: int, step_pk: int) -> HttpResponse:
    """One step: what is to be done with it now. The owner sees it and changes nothing."""
    screen = screen_of(request, pk, step_pk)
    more: dict[str, Any] = {}
    if screen.is_current and screen.unchecked and screen.state in ("next", "again"):
        more["safety_form"] = SafetyForm(cautions=screen.cautions)
    if screen.is_current and screen.state == "deviation":
        deviation = screen.undecided[0]
        more["deviation"] = deviation
        more["dispose_form"] = DisposeForm(deviation=deviation, running=False)
    return show(request, screen, **more)


@never_cache
@permission_needed("work_cellar")
def ahead(request: Request, pk: int, step_pk: int) -> HttpResponse:
    """The next step as a tablet carries it along, to start it without a network."""
    screen = ahead_of_its_turn(screen_of(request, pk, step_pk))
    if screen is None:
        return redirect("turnarounds:step", pk, step_pk)
    form = SafetyForm(cautions=screen.cautions) if screen.unchecked else None
    return show(request, screen, safety_form=form)


@require_POST
@permission_needed("work_cellar")
def safety(request: Request, pk: int, step_pk: int) -> HttpResponse:
    screen = screen_of(request, pk, step_pk)
    form = SafetyForm(request.POST, cautions=screen.cautions)
    done = submitted(
        request,
        form,
        lambda by: step_actions.acknowledge_safety(
            by=by,
            clean=screen.clean,
            step=screen.step,
            codes=form.cleaned_data["codes"],
            confirmed_at=typed_at(request),
        ),
    )
    if done is not None:
        if "without_timer" in request.POST:
            return redirect("turnarounds:state_step", pk, step_pk)
        refused = start_after_checks(request, screen)
        if refused is not None:
            return show(request, screen_of(request, pk, step_pk), key_form=refused, status=422)
        return redirect("turnarounds:step", pk, step_pk)
    return show(request, screen, safety_form=form, status=422)


@require_POST
@permission_needed("work_cellar")
def start(request: Request, pk: int, step_pk: int) -> HttpResponse:
    screen = screen_of(request, pk, step_pk)
    form = start_form(screen, request.POST, now=timezone.now())
    record = submitted(
        request,
        form,
        lambda by: step_actions.start_step(
            by=by,
            clean=screen.clean,
            step=screen.step,
            draws=form.draws(),
            started_at=typed_at(request),
        ),
    )
    if record is not None:
        return redirect("turnarounds:step", pk, step_pk)
    return show(request, screen, key_form=form, status=422)


@never_cache
@permission_needed("work_cellar")
def read(request: Request, pk: int, step_pk: int) -> HttpResponse:
    """Take a reading; answers with the readings alone, or goes back to the step."""
    here = reverse("turnarounds:step", args=[pk, step_pk])
    screen = screen_of(request, pk, step_pk)
    form = reading_form_of(request, screen, request.POST) if request.method == "POST" else None
    if form is None:
        return redirect(here)
    reading = submitted(
        request,
        form,
        lambda by: reading_actions.record_reading(
            by=by,
            record=_attempt(screen, form),
            quantity=form.asked_quantity,
            read_at=typed_at(request),
            **form.values(),
        ),
    )
    if reading is None:
        return show(request, screen, reading_form=form, status=422)
    if request.htmx:
        return show(request, screen_of(request, pk, step_pk), latest=reading)
    sums = sums_of(screen, request.GET, brewery=request.brewery)
    return redirect(f"{here}?latest={reading.pk}{sums.carried}#readings")


@never_cache
@permission_needed("work_cellar")
def end(request: Request, pk: int, step_pk: int) -> HttpResponse:
    screen = screen_of(request, pk, step_pk)
    if screen.item.record is None:
        return redirect("turnarounds:step", pk, step_pk)
    if request.method != "POST" and screen.state != "running":
        return to_current_step(pk)
    form = end_form_of(request, screen, sent(request))
    ended = submitted(
        request,
        form,
        lambda by: step_actions.end_step(
            by=by,
            record=_attempt(screen, form),
            ended_at=typed_at(request),
            **form.values(),
        ),
    )
    if ended is not None:
        if go_on(request, screen):
            return redirect("atp:samples", screen.clean.turnaround_id)
        return to_current_step(pk)
    return page(request, "turnarounds/steps/end.html", form=form, room="board", screen=screen)


@never_cache
@permission_needed("work_cellar")
def state(request: Request, pk: int, step_pk: int) -> HttpResponse:
    """Record a step that ran without the timer."""
    screen = screen_of(request, pk, step_pk)
    if request.method != "POST" and not screen.startable:
        return to_current_step(pk)
    step = screen.step
    lot = last_agent_lot(step.agent) if step.agent is not None else ""
    form = StateForm(
        sent(request),
        request.FILES or None,
        step=step,
        drain=screen.drain,
        observations=asked_observations(screen.clean, step),
        initial={"agent_lot": lot},
        # What was read in a clean that was done already is stated with its step.
        stated=asked_quantities(step) if screen.clean.entered_at is not None else (),
        brewery=request.brewery,
    )
    offer_on(form, screen, now=timezone.now())
    stated = submitted(
        request,
        form,
        lambda by: step_actions.state_step(by=by, clean=screen.clean, step=step, **form.values()),
    )
    if stated is not None:
        return to_current_step(pk)
    return page(request, "turnarounds/steps/state.html", form=form, room="board", screen=screen)


@permission_needed("work_cellar")
def leave_out(request: Request, pk: int, step_pk: int) -> HttpResponse:
    screen = screen_of(request, pk, step_pk)
    return reason_page(
        request,
        "turnarounds/steps/leave_out.html",
        label="Why it is left out",
        act=partial(step_actions.leave_out_step, clean=screen.clean, step=screen.step),
        then=lambda: to_current_step(pk),
        screen=screen,
    )


@never_cache
@permission_needed("work_cellar")
def dispose(request: Request, pk: int) -> HttpResponse:
    """Decide on one deviation, while its step runs or after."""
    deviation = get_object_or_404(
        Deviation.objects.select_related("record__clean", "record__step"), pk=pk
    )
    record = deviation.record
    screen = screen_of(request, record.clean_id, record.step_id)
    late = deviation_actions.came_late(deviation)
    if request.method != "POST" and (deviation.disposition or not (screen.clean.running or late)):
        return to_current_step(record.clean_id)
    running = screen.state == "running"
    form = DisposeForm(sent(request), deviation=deviation, running=running, late=late)
    decided = submitted(
        request,
        form,
        lambda by: deviation_actions.dispose_deviation(
            by=by,
            deviation=deviation,
            decided_at=typed_at(request),
            **form.values(),
        ),
    )
    if decided is not None:
        return to_current_step(record.clean_id)
    return page(
        request,
        "turnarounds/steps/deviation.html",
        form=form,
        room="board",
        screen=screen,
        deviation=deviation,
        dispose_form=form,
        sums=sums_of(screen, request.GET, brewery=request.brewery),
    )


@permission_needed("work_cellar")
def correct_reading(request: Request, pk: int) -> HttpResponse:
    """Correct a mistyped reading; the first one stays on record."""
    reading = get_object_or_404(
        StepReading.objects.select_related(
            "record__clean__turnaround__vessel",
            "record__clean__version__regime",
            "record__step",
            "taken_by",
        ),
        pk=pk,
    )
    clean = reading.record.clean
    form = CorrectReadingForm(sent(request), reading=reading, brewery=request.brewery)
    corrected = submitted(
        request,
        form,
        lambda by: reading_actions.correct_reading(
            by=by, reading=reading, value=form.stored_value(), reason=form.cleaned_data["reason"]
        ),
    )
    if corrected is not None:
        here = reverse("turnarounds:step", args=[clean.pk, reading.record.step_id])
        return redirect(f"{here}?latest={corrected.pk}#readings")
    return page(
        request,
        "turnarounds/steps/readings/correct.html",
        form=form,
        room="board",
        reading=reading,
        clean=clean,
        title=quantity_title(reading.quantity, reading.typed),
    )
