"""What a step's minutes are judged by, and when its timer was forgotten."""

from brewhygiene.regimes.models import Quantity, Step
from brewhygiene.science.judging import judge_window
from brewhygiene.turnarounds.contact import judged_minutes
from brewhygiene.turnarounds.models import StepRecord
from brewhygiene.turnarounds.progress import minutes_of, to_tenth_below
from brewhygiene.turnarounds.quantities import minutes_words

# Without a maximum: so many times what was aimed for, and so many minutes above it. Common
# practice, no source.
FORGOTTEN_TIMES = 2
FORGOTTEN_OVER_MIN = 30


def forgotten_words(ran_min: float, step: Step) -> str:
    """Why a timer that ran ``ran_min`` minutes was forgotten, or ''; reads prefetched windows.

    Over the maximum where there is one; else over a multiple of the target, or of the minimum
    where there is no target either.
    """
    window = step.window(Quantity.TIME_MIN)
    if window is None:
        return ""
    ran = f"Timer ran {minutes_words(ran_min)}"
    if window.maximum is not None:
        over = judge_window(value=ran_min, minimum=None, maximum=window.maximum) == "above"
        return f"{ran}: above {minutes_words(window.maximum)}" if over else ""
    aim = window.target if window.target is not None else (window.minimum or 0.0)
    if ran_min < FORGOTTEN_TIMES * aim or ran_min < aim + FORGOTTEN_OVER_MIN:
        return ""
    return f"{ran}, {minutes_words(aim)} aimed for: a forgotten timer"


def contact_judged(record: StepRecord, step: Step) -> float | None:
    """The contact minutes that an ended attempt is judged by; ``None`` where its timer is.

    A timer over its maximum is judged by itself, unless contact was short besides. 0 queries.
    """
    window, ended_at = step.window(Quantity.TIME_MIN), record.ended_at
    if window is None or ended_at is None:
        return None
    contact = judged_minutes(record, step, until=ended_at)
    if contact is None:
        return None
    short = judge_window(value=contact, minimum=window.minimum, maximum=None) == "below"
    ran = to_tenth_below(minutes_of(record, until=ended_at))
    long = judge_window(value=ran, minimum=None, maximum=window.maximum) == "above"
    return None if long and not short else contact
