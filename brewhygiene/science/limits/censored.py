"""The lognormal, with each 0 taken as something below 1 RLU that the meter cannot show."""

import dataclasses
from typing import TYPE_CHECKING

from brewhygiene.science.errors import TooFewReadings

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray
    from brewhygiene.science.limits.sample import IntArray

MOST_LOG = 23.0  # of RLU: a thousand times what any meter shows, and still a number
LEAST_SHOWN = 5  # readings above 0, to speak of a spread at all


@dataclasses.dataclass(frozen=True)
class CensoredFit:
    """Mean and SD of ln(RLU) for each row of samples; NaN only where a row carries no fit."""

    mean_log: "FloatArray"
    sd_log: "FloatArray"

    def quantile(self, share: float) -> "FloatArray":
        """RLU with ``share`` (of 1) at or below it."""
        import numpy as np
        from scipy import stats

        log = self.mean_log + float(stats.norm.ppf(share)) * self.sd_log
        found: FloatArray = np.exp(np.minimum(log, MOST_LOG))
        return found

    def up_to(self, rlu: "IntArray") -> "FloatArray":
        """The share of 1 at or below each of ``rlu``, whole RLU; rows as in the fit."""
        import numpy as np
        from scipy.special import ndtr

        edge = np.where(rlu <= 0, 1.0, rlu + 0.5)
        z = (np.log(edge) - self.mean_log[:, None]) / self.sd_log[:, None]
        return np.where(rlu < 0, 0.0, ndtr(z))


def left_censored_normal(values: "FloatArray", censored: "FloatArray") -> tuple[float, float]:
    """Mean and SD of greatest likelihood of normal ``values``, in any unit.

    Where ``censored`` is true, the value is only known to lie below the one given. SciPy's
    fit of censored data. Raises :class:`TooFewReadings` where fewer than two are known.
    """
    import numpy as np
    from scipy import stats

    known = ~np.asarray(censored, dtype=bool)
    if known.sum() < 2:
        raise TooFewReadings("Fewer than two readings are known, so their variation is unknown.")
    shown = np.asarray(values, dtype=float)
    if known.all():
        return float(shown.mean()), float(shown.std())
    data = stats.CensoredData(uncensored=shown[known], left=shown[~known])
    start = float(shown.std()) or 1.0
    mean, sd = stats.norm.fit(data, loc=float(shown.mean()), scale=start)
    return float(mean), float(sd)


def fit_censored(samples: "IntArray") -> CensoredFit:
    """Lognormals of greatest likelihood, one for each row of ``samples``, RLU, zeros below 1.

    With one bound at ln 1 = 0 the likelihood depends on the number of zeros and on sum and sum
    of squares of the logs alone; in γ = mean/SD it has one maximum (Olsen's form [1]_), found by
    halving, all rows at once.

    References
    ----------
    .. [1] Olsen R.J., Econometrica 46 (1978) 1211-1215 (from memory).
    """
    import numpy as np
    from scipy.special import log_ndtr

    shown = samples > 0
    n1 = shown.sum(axis=1).astype(float)
    n0 = samples.shape[1] - n1
    logs = np.log(np.where(shown, samples, 1))
    s1, s2 = logs.sum(axis=1), (logs**2).sum(axis=1)
    able = (n1 >= 2) & (s2 > 1e-9)
    s2 = np.where(able, s2, 1.0)

    def theta(gamma: "FloatArray") -> "FloatArray":
        # The positive root of s2 θ² - γ s1 θ - n1, in the form that does not cancel for γ < 0.
        root = np.sqrt((gamma * s1) ** 2 + 4 * n1 * s2)
        down = 2 * n1 / np.maximum(root - np.minimum(gamma, 0) * s1, 1e-300)
        found: FloatArray = np.where(gamma < 0, down, (gamma * s1 + root) / (2 * s2))
        return found

    low, high = np.full(len(n1), -20.0), np.full(len(n1), 400.0)
    for _ in range(60):
        middle = (low + high) / 2
        hazard = np.exp(-(middle**2) / 2 - 0.5 * np.log(2 * np.pi) - log_ndtr(-middle))
        rising = theta(middle) * s1 - n1 * middle - n0 * hazard > 0
        low, high = np.where(rising, middle, low), np.where(rising, high, middle)
    sd = np.where(able, 1 / np.where(able, theta(low), 1.0), np.nan)
    return CensoredFit(mean_log=low * sd, sd_log=sd)
