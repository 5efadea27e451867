"""How far readings of several vessels differ by the vessel, beside from clean to clean."""

import dataclasses
import math
from collections.abc import Mapping, Sequence

from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.limits.sample import log_rlu


@dataclasses.dataclass(frozen=True)
class Between:
    """The parts of variance of one-way groups, and how they were worked out.

    ``mean_square_between`` and ``mean_square_within`` of the values, ``usual_size`` the readings a
    group that the first counts with, ``largest_share`` of one group in all readings, a share of 1.
    """

    groups: int
    readings: int
    mean_square_between: float
    mean_square_within: float
    usual_size: float
    sum_of_squared_sizes: int
    largest_share: float
    f_p: float

    @property
    def between(self) -> float:
        """The variance between groups; 0 where they differ by less than by chance."""
        return max(0.0, (self.mean_square_between - self.mean_square_within) / self.usual_size)

    @property
    def within(self) -> float:
        """The variance within a group."""
        return self.mean_square_within

    @property
    def share(self) -> float:
        """The part of all variance that is between groups, a share of 1."""
        every = self.between + self.within
        return self.between / every if every else 0.0

    @property
    def factor_between(self) -> float:
        """One standard deviation between groups, of values that are log10: as a factor."""
        return float(10 ** math.sqrt(self.between))

    @property
    def factor_within(self) -> float:
        """One standard deviation within a group, of values that are log10: as a factor."""
        return float(10 ** math.sqrt(self.within))

    @property
    def worth(self) -> float:
        """How many independent readings say as much of the common mean (Kish's design effect)."""
        effect = 1 + (self.sum_of_squared_sizes / self.readings - 1) * self.share
        return self.readings / effect


def parts_of_variance(values_by_group: Mapping[str, Sequence[float]]) -> Between:
    """One-way random effects by the analysis of variance, for groups of any size.

    Raises :class:`TooFewReadings` for fewer than two groups, or where none has two values.

    >>> found = parts_of_variance({"a": [1, 2, 3], "b": [7, 8, 9]})
    >>> round(found.between, 3), found.within
    (17.667, 1.0)
    """
    import numpy as np
    from scipy import stats

    groups = [np.asarray(values, dtype=float) for values in values_by_group.values() if values]
    sizes = [len(group) for group in groups]
    many, every = len(groups), sum(sizes)
    if many < 2 or every - many < 1:
        raise TooFewReadings("At least two groups, one of them with two readings, are needed.")
    together = np.concatenate(groups)
    squares_between = sum(len(group) * (group.mean() - together.mean()) ** 2 for group in groups)
    # A mean of equal values need not be one of them to the last digit.
    squares_within = sum(
        ((group - group.mean()) ** 2).sum() for group in groups if np.ptp(group) > 0
    )
    if np.ptp(together) == 0:
        squares_between = 0.0
    mean_square_between = float(squares_between / (many - 1))
    mean_square_within = float(squares_within / (every - many))
    squared = sum(size**2 for size in sizes)
    if mean_square_within:
        ratio = mean_square_between / mean_square_within
        f_p = float(stats.f.sf(ratio, many - 1, every - many))
    else:
        f_p = 0.0 if mean_square_between else 1.0
    return Between(
        groups=many,
        readings=every,
        mean_square_between=mean_square_between,
        mean_square_within=mean_square_within,
        usual_size=(every - squared / every) / (many - 1),
        sum_of_squared_sizes=squared,
        largest_share=max(sizes) / every,
        f_p=f_p,
    )


def spread_between(rlu_by_vessel: Mapping[str, Sequence[int]]) -> Between:
    """The parts of variance of log10(RLU+1), by vessel."""
    return parts_of_variance(
        {name: [log_rlu(rlu) for rlu in found] for name, found in rlu_by_vessel.items()}
    )
