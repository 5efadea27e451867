"""The negative binomial: readings as counts, zeros among them, that vary more than by chance."""

import dataclasses
from typing import TYPE_CHECKING

from brewhygiene.science.errors import TooFewReadings

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray
    from brewhygiene.science.limits.sample import IntArray

# Beyond this the negative binomial is a Poisson distribution to all digits that matter.
LIKE_POISSON = 1e4
_LEAST_SIZE = 1e-5


@dataclasses.dataclass(frozen=True)
class CountFit:
    """``mean`` and ``size`` (k; variance = mean + mean²/k) for each row of samples."""

    mean: "FloatArray"
    size: "FloatArray"

    def quantile(self, share: float) -> "FloatArray":
        """The least whole RLU with at least ``share`` (of 1) at or below it."""
        from scipy import stats

        return self._counted(stats.nbinom.ppf, share)

    def up_to(self, rlu: "IntArray") -> "FloatArray":
        """The share of 1 at or below each of ``rlu``, RLU; rows as in the fit."""
        from scipy import stats

        size, mean = self.size[:, None], self.mean[:, None]
        return _floats(stats.nbinom.cdf(rlu, size, size / (size + mean)))

    def log_likelihood(self, rlu: "IntArray") -> float:
        """ln of the likelihood of the first row's fit for ``rlu``, RLU."""
        from scipy import stats

        size, mean = self.size[0], self.mean[0]
        return float(stats.nbinom.logpmf(rlu, size, size / (size + mean)).sum())

    def _counted(self, function: object, share: float) -> "FloatArray":
        assert callable(function)
        return _floats(function(share, self.size, self.size / (self.size + self.mean)))


def _floats(values: object) -> "FloatArray":
    import numpy as np

    return np.asarray(values, dtype=float)


def fit_counts(samples: "IntArray") -> CountFit:
    """Negative binomials of greatest likelihood, one for each row of ``samples``, RLU.

    The mean is the sample's own; the size solves Σ ψ(x+k) - n ψ(k) + n ln(k/(k+mean)) = 0 for
    ln k, all rows at once, which is why no library's fit of one sample is used. A row that varies
    no more than a Poisson distribution gets ``LIKE_POISSON``. Raises :class:`TooFewReadings` for
    a row without any RLU.
    """
    import numpy as np
    from scipy.optimize import elementwise
    from scipy.special import psi

    mean = samples.mean(axis=1)
    if (mean <= 0).any():
        raise TooFewReadings("Readings that are all 0 RLU have no distribution to fit.")

    def slope(log_size: "FloatArray", row: "IntArray") -> "FloatArray":
        k = np.exp(log_size)
        return _floats(
            psi(samples[row] + k[..., None]).mean(axis=-1) - psi(k) - np.log1p(mean[row] / k)
        )

    rows = np.arange(len(mean))
    high = np.full(len(mean), np.log(LIKE_POISSON))
    poisson = (samples.var(axis=1) <= mean) | (slope(high, rows) >= 0)
    log_size = high.copy()
    if not poisson.all():
        varied = rows[~poisson]
        ends = (np.full(len(varied), np.log(_LEAST_SIZE)), high[varied])
        log_size[varied] = elementwise.find_root(slope, ends, args=(varied,)).x
    size = np.where(poisson, LIKE_POISSON, np.exp(log_size))
    return CountFit(mean=_floats(mean), size=_floats(size))
