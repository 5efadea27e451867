"""How well a distribution fits: Anderson and Darling's distance, judged by simulation.

The p value is the share of samples of the same size, drawn from the fitted distribution, read
in whole RLU as a meter does and fitted anew, that lie as far off as the readings do. Tables
would hold for neither the ties and zeros of RLU nor for fitted parameters.
"""

import dataclasses
import functools
from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

from brewhygiene.science.limits.censored import CensoredFit, fit_censored
from brewhygiene.science.limits.counts import LIKE_POISSON, CountFit, fit_counts
from brewhygiene.science.limits.many import mean_and_sd

if TYPE_CHECKING:
    import numpy as np

    from brewhygiene.science.errors import FloatArray
    from brewhygiene.science.limits.sample import IntArray

    Generator = np.random.Generator

SIMULATED = 399
SIMULATED_OF_MANY = 199  # still enough to tell 1 in 100
MANY = 300  # readings; beyond, chance weighs less and time more
SEED = 20_260_310


class Fit(Protocol):
    def up_to(self, rlu: "IntArray") -> "FloatArray": ...


@dataclasses.dataclass(frozen=True)
class Goodness:
    """Anderson–Darling's A² of the fit and its ``p`` (share of 1) by simulation."""

    distance: float
    p: float


def _signed_logs(rlu: "FloatArray") -> "FloatArray":
    """log10(RLU+1), continued below 0 RLU as its own mirror image."""
    import numpy as np

    found: FloatArray = np.sign(rlu) * np.log10(np.abs(rlu) + 1)
    return found


@dataclasses.dataclass(frozen=True)
class NormalFit:
    """Mean and SD of each row: of RLU, or of log10(RLU+1) where ``on_logs``.

    A normal distribution reaches below 0 RLU, and so does what is drawn from this one: readings
    that pile up at 0 lie off it, as they should.
    """

    mean: "FloatArray"
    sd: "FloatArray"
    on_logs: bool

    def up_to(self, rlu: "IntArray") -> "FloatArray":
        """The share of 1 at or below each of ``rlu``, whole RLU."""
        import numpy as np
        from scipy.special import ndtr

        edge: FloatArray = rlu.astype(np.float64) + 0.5
        if self.on_logs:
            edge = _signed_logs(edge)
        return np.asarray(ndtr((edge - self.mean[:, None]) / self.sd[:, None]), dtype=float)

    def drawn(self, rng: "Generator", size: tuple[int, int]) -> "IntArray":
        import numpy as np

        values = rng.normal(self.mean[0], self.sd[0], size)
        if self.on_logs:
            values = np.sign(values) * (10 ** np.minimum(np.abs(values), 12.0) - 1)
        return np.rint(values).astype(np.int64)


def fit_normal(samples: "IntArray", *, on_logs: bool) -> NormalFit:
    """Normal distributions, one for each row of ``samples``, RLU."""
    import numpy as np

    values = samples.astype(float)
    mean, sd = mean_and_sd(_signed_logs(values) if on_logs else values)
    # A simulated row may be all alike; any spread far below a whole RLU says the same.
    return NormalFit(mean=mean, sd=np.maximum(sd, 1e-6), on_logs=on_logs)


def distances(samples: "IntArray", fit: Fit) -> "FloatArray":
    """A² of each row of ``samples``, RLU, from its ``fit``.

    At the middle of each reading's step, so that readings that tie lie where their share does.
    """
    import numpy as np

    ordered = np.sort(samples, axis=1)
    place = (fit.up_to(ordered) + fit.up_to(ordered - 1)) / 2
    place = np.clip(place, 1e-12, 1 - 1e-12)
    n = ordered.shape[1]
    weight = (2 * np.arange(1, n + 1) - 1) / n
    terms = weight * (np.log(place) + np.log1p(-place[:, ::-1]))
    return np.asarray(-n - terms.sum(axis=1), dtype=float)


def _judged(
    samples: "IntArray",
    *,
    fitted: Callable[["IntArray"], Fit],
    drawn: Callable[["Generator", tuple[int, int]], "IntArray"],
) -> Goodness:
    import numpy as np

    rng = np.random.default_rng(SEED)
    ours = float(distances(samples, fitted(samples))[0])
    readings = samples.shape[1]
    rows = SIMULATED if readings <= MANY else SIMULATED_OF_MANY
    simulated = drawn(rng, (rows, readings))
    theirs = distances(simulated, fitted(simulated))
    theirs = theirs[np.isfinite(theirs)]
    as_far = int((theirs >= ours - 1e-9).sum())
    return Goodness(distance=ours, p=(as_far + 1) / (len(theirs) + 1))


def goodness_normal(samples: "IntArray", *, on_logs: bool) -> Goodness:
    """Fit of a normal distribution to one row of ``samples``, RLU, or to its logs."""
    fit = fit_normal(samples, on_logs=on_logs)
    return _judged(samples, fitted=functools.partial(fit_normal, on_logs=on_logs), drawn=fit.drawn)


def goodness_counts(samples: "IntArray", fit: CountFit) -> Goodness:
    """``fit`` of a negative binomial to one row of ``samples``, RLU."""
    import numpy as np

    mean, size = float(fit.mean[0]), float(fit.size[0])

    def drawn(rng: "Generator", shape: tuple[int, int]) -> "IntArray":
        if size >= LIKE_POISSON:
            counts = rng.poisson(mean, shape)
        else:
            counts = rng.negative_binomial(size, size / (size + mean), shape)
        # A row of nothing but zeros has no fit; one RLU in it is the nearest that has.
        counts[counts.sum(axis=1) == 0, 0] = 1
        return counts.astype(np.int64)

    return _judged(samples, fitted=fit_counts, drawn=drawn)


def goodness_censored(samples: "IntArray", fit: CensoredFit) -> Goodness:
    """``fit`` of a lognormal with zeros below 1 to one row of ``samples``, RLU."""
    import numpy as np

    mean, sd = float(fit.mean_log[0]), float(fit.sd_log[0])

    def drawn(rng: "Generator", shape: tuple[int, int]) -> "IntArray":
        values = np.exp(np.minimum(rng.normal(mean, sd, shape), 27.0))
        return np.where(values < 1, 0, np.rint(values)).astype(np.int64)

    return _judged(samples, fitted=fit_censored, drawn=drawn)
