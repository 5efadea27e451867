"""Which reading a step's screen asks for, and the form of it."""

from typing import Any

from brewhygiene.people.requests import Request
from brewhygiene.regimes.conductivity.calibration import calibration_in_force, readable, warning_of
from brewhygiene.regimes.models import Quantity
from brewhygiene.science.tank.indicators import suiting
from brewhygiene.turnarounds.progress import residue_before
from brewhygiene.turnarounds.quantities import CONDUCTIVITY, TITRATION
from brewhygiene.turnarounds.queries import last_strength_reading, last_titration
from brewhygiene.turnarounds.steps.forms import STRAIGHT, WAYS, WAYS_OF_PH, ReadingForm
from brewhygiene.turnarounds.steps.screen import StepScreen


def reading_form_of(request: Request, screen: StepScreen, data: Any = None) -> ReadingForm | None:
    """The form of the quantity asked for, or of the first one unread; ``None`` when all are."""
    record = screen.item.record
    known = [code for code, *_ in (*screen.quantities, *screen.other_quantities)]
    asked, by = (
        (data.get("quantity", ""), data.get("by", ""))
        if data is not None
        else (request.GET.get("read", ""), request.GET.get("by", ""))
    )
    if asked not in known and screen.unread:
        asked = next((code for code, _, read in screen.quantities if not read), "")
    elif asked not in known:
        asked = ""
    if not asked or record is None:
        return None
    agent = screen.step.agent if asked == Quantity.CONCENTRATION else None
    calibration = calibration_in_force(agent) if agent is not None else None
    by_meter = agent is not None and readable(agent, calibration)
    if agent is not None and by not in WAYS:
        latest = last_strength_reading(agent)
        kept = latest.titration if latest is not None else None
        by = kept.get("method", TITRATION) if kept else STRAIGHT
    if asked == Quantity.PH and screen.step.window(asked) is None:
        by = by if by in WAYS_OF_PH else STRAIGHT
    elif agent is None or (by == CONDUCTIVITY and not by_meter):
        by = STRAIGHT
    return ReadingForm(
        data,
        record=record,
        quantity=asked,
        way=by,
        calibration=calibration,
        readable=by_meter,
        warning=warning_of(agent) if agent is not None else "",
        window=screen.step.window(asked),
        last=last_titration(agent) if by == TITRATION and agent is not None else None,
        brewery=request.brewery,
        indicators=suiting(residue_before(screen.clean, screen.step)),
        auto_id="read_%s",
    )
