"""Readings so far above the others that they decide the limit by themselves."""

import math

from brewhygiene.science.limits.sample import Sample, logs_of

SIGNIFICANCE = 0.01
MOST_SHARE = 0.1


def far_out(sample: Sample) -> tuple[int, ...]:
    """The places (from 0) of readings of ``sample``, RLU, far above the rest; highest first.

    Rosner's generalised many-outlier test on log10(RLU+1), upper side, 1 %, at most a tenth of
    the readings [1]_. Logs are compared, so a reading twice the usual is none.

    >>> far_out(Sample((2, 3, 1, 4, 2, 3, 5, 2, 1, 3, 2, 9000)))
    (11,)

    References
    ----------
    .. [1] Rosner B., Technometrics 25 (1983) 165-172; NIST/SEMATECH e-Handbook, 1.3.5.17.3
       (from memory).
    """
    import numpy as np
    from scipy import stats

    logs = logs_of(sample.array())
    left = list(range(sample.size))
    removed: list[int] = []
    found = 0
    for step in range(1, max(1, int(sample.size * MOST_SHARE)) + 1):
        values = logs[left]
        sd = float(np.std(values, ddof=1))
        if sd < 1e-9:
            break
        highest = int(np.argmax(values))
        distance = (float(values[highest]) - float(values.mean())) / sd
        removed.append(left.pop(highest))
        count = sample.size - step + 1
        t = float(stats.t.ppf(1 - SIGNIFICANCE / count, count - 2))
        critical = t * (count - 1) / math.sqrt((count - 2 + t**2) * count)
        if distance > critical:
            found = step
    return tuple(removed[:found])
