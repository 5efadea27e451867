"""Each method's limit for many samples of one size at once: for resampling and for simulation."""

from typing import TYPE_CHECKING

from brewhygiene.science.limits.sample import logs_of

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray
    from brewhygiene.science.limits.sample import IntArray


def mean_and_sd(values: "FloatArray") -> tuple["FloatArray", "FloatArray"]:
    """Mean and SD (n - 1) of each row of ``values``, in their unit; stable for large numbers."""
    mean = values.mean(axis=1)
    return mean, values.std(axis=1, ddof=1)


def raw_limits(samples: "IntArray", k: float) -> "FloatArray":
    """Mean + ``k`` SD of each row of ``samples``, RLU."""
    mean, sd = mean_and_sd(samples.astype(float))
    return mean + k * sd


def log_limits(samples: "IntArray", k: float) -> "FloatArray":
    """Mean + ``k`` SD of log10(RLU+1) of each row of ``samples``, brought back to RLU."""
    mean, sd = mean_and_sd(logs_of(samples))
    found: FloatArray = 10 ** (mean + k * sd) - 1
    return found


def percentile_limits(samples: "IntArray", coverage: float) -> "FloatArray":
    """The reading, RLU, at the place (n + 1) p of each row of ``samples``, p = ``coverage``.

    By this definition the share of future readings above it is 1 - p on average, whatever the
    distribution (fewer where readings tie).
    """
    import numpy as np

    return np.asarray(np.quantile(samples, coverage, axis=1, method="weibull"), dtype=float)


def ranked_limits(samples: "IntArray", rank: int) -> "FloatArray":
    """The ``rank``-th largest reading, RLU, of each row of ``samples``."""
    import numpy as np

    return np.sort(samples, axis=1)[:, -rank].astype(float)
