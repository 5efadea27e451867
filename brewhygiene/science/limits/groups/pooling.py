"""Whether readings of several points may be put together under one limit."""

import dataclasses
import math
from collections.abc import Mapping, Sequence
from typing import Literal

from brewhygiene.science.errors import require
from brewhygiene.science.limits.sample import log_rlu, rlu_of_log

LEAST_IN_GROUP = 5
SIGNIFICANCE = 0.05

Answer = Literal["one", "few", "may", "should_not"]


@dataclasses.dataclass(frozen=True)
class Group:
    """One point: geometric-style middle (mean of the logs, as RLU) with its 95 % interval.

    ``top_rlu`` is its highest reading. No interval where it has fewer than two readings.
    """

    name: str
    readings: int
    middle_rlu: float
    low_rlu: float | None
    high_rlu: float | None
    top_rlu: int


@dataclasses.dataclass(frozen=True)
class Pooling:
    """``answer``: ``one`` group only, too ``few`` readings a group, ``may`` or ``should_not``.

    ``level_p`` by Kruskal and Wallis (do they lie alike?), ``spread_p`` by Brown and Forsythe (do
    they vary alike?), shares of 1; ``factor`` is the highest point's middle over the lowest's,
    in RLU + 1.
    """

    answer: Answer
    groups: tuple[Group, ...]
    level_p: float | None = None
    spread_p: float | None = None
    factor: float | None = None
    left_out: tuple[str, ...] = ()

    @property
    def highest(self) -> Group:
        return max(self.groups, key=lambda group: group.middle_rlu)

    @property
    def lowest(self) -> Group:
        return min(self.groups, key=lambda group: group.middle_rlu)


def _group(name: str, rlu: Sequence[int]) -> Group:
    import numpy as np
    from scipy import stats

    logs = np.array([log_rlu(value) for value in rlu])
    middle = float(logs.mean())
    low = high = None
    if len(rlu) > 1:
        half = (
            float(stats.t.ppf(0.975, len(rlu) - 1)) * float(logs.std(ddof=1)) / math.sqrt(len(rlu))
        )
        low, high = max(0.0, rlu_of_log(middle - half)), rlu_of_log(middle + half)
    return Group(name, len(rlu), rlu_of_log(middle), low, high, max(rlu))


def pooling_of(rlu_by_group: Mapping[str, Sequence[int]]) -> Pooling:
    """Whether groups of readings, ``rlu_by_group`` in RLU of one scale, may be pooled.

    Kruskal–Wallis on ranks and Brown–Forsythe (Levene's test about medians) on log10(RLU+1), 5 %
    each; a group of fewer than five readings is left out of the tests. Raises
    :class:`OutOfRange` without a group.

    >>> pooling_of({"cone": [1, 2, 1, 3, 2, 1], "arm": [20, 35, 28, 40, 22, 31]}).answer
    'should_not'
    """
    import numpy as np
    from scipy import stats

    require("number of groups", len(rlu_by_group), minimum=1)
    groups = tuple(_group(name, rlu) for name, rlu in rlu_by_group.items() if rlu)
    if len(groups) == 1:
        return Pooling("one", groups)
    tested = {n: r for n, r in rlu_by_group.items() if len(r) >= LEAST_IN_GROUP}
    left_out = tuple(group.name for group in groups if group.name not in tested)
    if len(tested) < 2:
        return Pooling("few", groups, left_out=left_out)
    logs = [np.log10(np.asarray(rlu, dtype=float) + 1) for rlu in tested.values()]
    together = np.concatenate(logs)
    level_p = 1.0 if np.ptp(together) == 0 else float(stats.kruskal(*logs).pvalue)
    off = [np.abs(group - np.median(group)) for group in logs]
    # Where no group departs from its median by two amounts, there is nothing to compare.
    if all(np.ptp(group) == 0 for group in off):
        alike = np.ptp([group[0] for group in off]) == 0
        spread_p = 1.0 if alike else 0.0
    else:
        spread_p = float(stats.levene(*logs, center="median").pvalue)
    answer: Answer = "should_not" if min(level_p, spread_p) < SIGNIFICANCE else "may"
    middles = [float(group.mean()) for group in logs]
    factor = 10 ** (max(middles) - min(middles))
    return Pooling(answer, groups, level_p, spread_p, factor, left_out)
