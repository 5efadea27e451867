"""A step that starts as soon as its safety checks are confirmed."""

from django.contrib import messages
from django.utils import timezone

from brewhygiene.delivery.late import typed_at
from brewhygiene.people.form_pages import reasons_of
from brewhygiene.people.forms import new_key
from brewhygiene.people.requests import Request, actor_of_next
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.steps import actions
from brewhygiene.turnarounds.steps.screen import StepScreen
from brewhygiene.turnarounds.steps.solutions.forms import DrawsForm, start_form


def start_after_checks(request: Request, screen: StepScreen) -> DrawsForm | None:
    """Start the step that was just confirmed; where it cannot start yet, its page says why.

    The form comes back where the refusal belongs to one of its fields. A form sent twice confirms
    once and starts once: the second key follows from the first.
    """
    if screen.clean.entered_at is not None:
        return None
    by = actor_of_next(request, "start")
    # What is sent next is another form than that of the checks.
    form = start_form(screen, {**request.POST.dict(), "key": new_key()}, now=timezone.now())
    if not form.is_valid():
        return form
    try:
        actions.start_step(
            by=by,
            clean=screen.clean,
            step=screen.step,
            draws=form.draws(),
            started_at=typed_at(request),
        )
    except Refusal as refusal:
        # What arrives late has no page of its own to say it on: it comes back as refused.
        if refusal.field in form.fields or by.arrived is not None:
            form.refuse(refusal)
            request.refused = reasons_of(form)
            return form
        messages.error(request, refusal.message)
    return None
