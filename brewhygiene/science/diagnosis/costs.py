"""The cut-off that costs least, where a miss costs one sum and a needless alarm another."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.science.counting.poisson import CONFIDENCE
from brewhygiene.science.diagnosis.roc import CutOff, roc_of
from brewhygiene.science.errors import OutOfRange, require

RESAMPLES = 500
# Draws at a time are kept to so many numbers, for the sake of the server's memory.
MOST_AT_ONCE = 400_000
# Any number: the same readings give the same interval whenever they are looked at.
SEED = 20_180


@dataclasses.dataclass(frozen=True)
class CostedCutOff:
    """The cheapest cut-off, what it costs per case, and how far it may be off.

    ``low`` and ``high`` are readings, from the bootstrap; ``None`` stands for *never call one*.
    ``cost`` is per case in the money given, ``cost_never`` and ``cost_always`` those of calling
    none and every one.
    """

    cut_off: CutOff
    cost: float
    cost_never: float
    cost_always: float
    low: float | None
    high: float | None
    resamples: int


def cheapest_cut_off(
    scores: Sequence[float],
    positive: Sequence[bool],
    *,
    miss_cost: float,
    alarm_cost: float,
    so: str = "positive",
    not_so: str = "negative",
    confidence: float = CONFIDENCE,
    resamples: int = RESAMPLES,
) -> CostedCutOff:
    """The cut-off of the least expected cost per case, with a bootstrap interval.

    A case that is positive and not called costs ``miss_cost``, one that is called and negative
    ``alarm_cost``, both above 0 in the same money; how many are positive is as in the data, so
    that the answer holds for such cases only. Of cut-offs that cost the same, the one that misses
    least. The interval is that of the cheapest cut-off of ``resamples`` draws of pairs, with
    replacement. Raises :class:`OutOfRange` for costs not above 0 and :class:`TooFewReadings` as
    :func:`roc_of` does.

    >>> dirty = [False] * 6 + [True] * 4
    >>> found = cheapest_cut_off([0, 1, 2, 3, 9, 20, 8, 30, 40, 50], dirty, miss_cost=10,
    ...                          alarm_cost=1)
    >>> found.cut_off.at_least, found.cost
    (8.0, 0.2)
    """
    import numpy as np

    for name, cost in (("cost of a miss", miss_cost), ("cost of a needless alarm", alarm_cost)):
        require(name, cost, minimum=0, maximum=1e12)
        if cost == 0:
            raise OutOfRange(f"The {name} is 0. Enter a cost above 0 for a cut-off by cost.")
    curve = roc_of(scores, positive, so=so, not_so=not_so).cut_offs
    # Per threshold's reading, how many positives and negatives read exactly that.
    hits = np.array([cut.hits for cut in curve])
    alarms = np.array([cut.false_alarms for cut in curve])
    at = np.concatenate((np.diff(hits), np.diff(alarms)))
    total = int(at.sum())

    def costs(of_positives: "np.ndarray", of_negatives: "np.ndarray") -> "np.ndarray":
        """Per case, of every cut-off from never to always, by rows of counts per reading."""
        never = np.zeros((*of_positives.shape[:-1], 1))
        called = np.concatenate((never, np.cumsum(of_positives, axis=-1)), axis=-1)
        alarmed = np.concatenate((never, np.cumsum(of_negatives, axis=-1)), axis=-1)
        missed = of_positives.sum(axis=-1, keepdims=True) - called
        return np.asarray((missed * miss_cost + alarmed * alarm_cost) / total)

    def cheapest(per_cut: "np.ndarray") -> "np.ndarray":
        """The last of the least, which calls the most."""
        least = per_cut.min(axis=-1, keepdims=True)
        near = per_cut <= least + 1e-12 * max(miss_cost, alarm_cost)
        return np.asarray(near.shape[-1] - 1 - np.argmax(near[..., ::-1], axis=-1))

    readings = len(curve) - 1
    per_cut = costs(at[:readings], at[readings:])
    best = int(cheapest(per_cut))
    chance = np.random.default_rng(SEED)
    block = max(1, MOST_AT_ONCE // (2 * readings))
    places: list[int] = []
    while len(places) < resamples:
        draws = chance.multinomial(total, at / total, size=min(block, resamples - len(places)))
        places.extend(cheapest(costs(draws[:, :readings], draws[:, readings:])).tolist())
    left_out = (1 - confidence) / 2
    # A later place calls more: its reading is lower.
    last, first = np.quantile(places, (1 - left_out, left_out), method="inverted_cdf")
    return CostedCutOff(
        cut_off=curve[best],
        cost=float(per_cut[best]),
        cost_never=float(per_cut[0]),
        cost_always=float(per_cut[-1]),
        low=curve[int(last)].at_least,
        high=curve[int(first)].at_least,
        resamples=resamples,
    )
