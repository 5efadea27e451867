"""What begins as soon as a step has ended, where one tap asked for both."""

from django.contrib import messages

from brewhygiene.delivery.late import typed_at
from brewhygiene.people.requests import Request, actor_of_next
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import finish_clean
from brewhygiene.turnarounds.steps.actions import start_step
from brewhygiene.turnarounds.steps.screen import StepScreen

START, FINISH = "start", "finish"
# What the page that comes next says by itself: a deviation to decide, checks to confirm.
SAID_THERE = {"open_deviation", "out_of_order", "not_complete", "unsafe", "needs_server"}


def go_on(request: Request, screen: StepScreen) -> bool:
    """Start the next step, or finish the clean, as the button that ended ``screen``'s step says.

    What had to be decided or confirmed before is on the page that comes next, and nothing starts.
    Where the end was typed without a network, the next step began then, if it may start so, and no
    clean is finished: somebody does that once there is one. Whether the clean is finished now.
    """
    then, step = request.GET.get("then"), screen.next_up
    by = actor_of_next(request, "then")
    try:
        if then == START and step is not None:
            start_step(by=by, clean=screen.clean, step=step, started_at=typed_at(request))
        elif then == FINISH and screen.may_finish and by.arrived is None:
            finish_clean(by=by, clean=screen.clean)
            return True
    except Refusal as refusal:
        if refusal.code not in SAID_THERE:
            messages.error(request, refusal.message)
    return False
