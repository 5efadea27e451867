"""Readings against windows and RLU against limits."""

from typing import Literal

WindowJudgement = Literal["within", "below", "above"]
RluVerdict = Literal["clear", "alert", "action", "unjudged"]


def judge_window(*, value: float, minimum: float | None, maximum: float | None) -> WindowJudgement:
    """Whether ``value`` lies within a window; its bounds belong to it.

    ``value``, ``minimum`` and ``maximum`` share one unit; ``None`` is no bound. A relative
    allowance of 1e-9 keeps a value converted from another unit from failing at its own bound.

    >>> judge_window(value=1.5, minimum=1.5, maximum=3.0)
    'within'
    """
    if minimum is not None and value < minimum - abs(minimum) * 1e-9:
        return "below"
    if maximum is not None and value > maximum + abs(maximum) * 1e-9:
        return "above"
    return "within"


def judge_rlu(*, rlu: int, alert_rlu: int | None, action_rlu: int | None) -> RluVerdict:
    """The verdict on one reading, ``rlu`` RLU of one meter, against that meter's limits.

    Clear up to and including ``alert_rlu``, alert above it up to and including ``action_rlu``,
    action above that; unjudged where there are no limits. Raises ``ValueError`` for a
    negative reading, one limit without the other, or an alert level above the action limit.

    >>> judge_rlu(rlu=10, alert_rlu=10, action_rlu=30)
    'clear'
    """
    if rlu < 0:
        raise ValueError("RLU are counted from 0.")
    if alert_rlu is None and action_rlu is None:
        return "unjudged"
    if alert_rlu is None or action_rlu is None or alert_rlu > action_rlu:
        raise ValueError("Enter an alert level and an action limit that is not below it.")
    if rlu <= alert_rlu:
        return "clear"
    return "alert" if rlu <= action_rlu else "action"
