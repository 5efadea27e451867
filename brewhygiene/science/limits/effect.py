"""What limits would have done to cleans of the past, and what far-out readings do to limits."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.science.limits.asked import Asked
from brewhygiene.science.limits.sample import Sample
from brewhygiene.science.limits.side_by_side import Method, side_by_side


@dataclasses.dataclass(frozen=True)
class PastClean:
    """The highest reading after one past clean, RLU, and whether a plate of it grew anything."""

    top_rlu: int
    plate_positive: bool


@dataclasses.dataclass(frozen=True)
class Effect:
    """How past cleans would have been judged; of each, how many had a positive plate."""

    cleans: int
    alert: int
    alert_positive: int
    action: int
    action_positive: int
    clear_positive: int


def effect_of(
    *,
    alert_rlu: int,
    action_rlu: int,
    cleans: int,
    positive: int,
    high: Sequence[PastClean],
) -> Effect:
    """What ``alert_rlu`` and ``action_rlu``, in RLU, would have done to ``cleans`` past cleans.

    ``high`` holds those of them with a reading above ``alert_rlu`` (others may be among them);
    ``positive`` is how many of all had a positive plate. A reading at a limit is not above it.

    >>> effect_of(alert_rlu=10, action_rlu=30, cleans=50, positive=2,
    ...           high=[PastClean(12, False), PastClean(31, True)]).action_positive
    1
    """
    alert = [past for past in high if alert_rlu < past.top_rlu <= action_rlu]
    action = [past for past in high if past.top_rlu > action_rlu]
    alert_positive = sum(past.plate_positive for past in alert)
    action_positive = sum(past.plate_positive for past in action)
    return Effect(
        cleans=cleans,
        alert=len(alert),
        alert_positive=alert_positive,
        action=len(action),
        action_positive=action_positive,
        clear_positive=positive - alert_positive - action_positive,
    )


@dataclasses.dataclass(frozen=True)
class Without:
    """One method's limits, RLU, with all readings and without those far out."""

    code: str
    alert_rlu: tuple[int | None, int | None]
    action_rlu: tuple[int | None, int | None]


def without(
    sample: Sample, places: Sequence[int], asked: Asked, *, methods: Sequence[Method]
) -> tuple[Without, ...]:
    """How much the readings at ``places`` (from 0) of ``sample``, RLU, move each of ``methods``.

    As ``asked``; no interval is worked out. Empty where nothing is left to vary without them.
    """
    left = sample.without(places)
    if len(set(left.rlu)) < 2:
        return ()
    fewer = side_by_side(left, asked, resamples=1)
    return tuple(
        Without(
            have.code,
            (have.alert.rlu if have.alert else None, lack.alert.rlu if lack.alert else None),
            (have.action.rlu if have.action else None, lack.action.rlu if lack.action else None),
        )
        for have, lack in zip(methods, fewer, strict=True)
    )
