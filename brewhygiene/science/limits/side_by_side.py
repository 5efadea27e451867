"""Alert level and action limit by six methods, side by side, each with how far it may be off."""

import dataclasses
from typing import TYPE_CHECKING

from brewhygiene.quantities.style import digits
from brewhygiene.science.limits import many
from brewhygiene.science.limits.asked import Asked
from brewhygiene.science.limits.censored import (
    LEAST_SHOWN,
    CensoredFit,
    fit_censored,
    left_censored_normal,
)
from brewhygiene.science.limits.counts import LIKE_POISSON, CountFit, fit_counts
from brewhygiene.science.limits.factors import normal_factor
from brewhygiene.science.limits.goodness import (
    MANY,
    Goodness,
    goodness_censored,
    goodness_counts,
    goodness_normal,
)
from brewhygiene.science.limits.ranks import (
    bounding_rank,
    readings_for_percentile,
    readings_needed,
)
from brewhygiene.science.limits.sample import LEAST_READINGS, Sample, logs_of, whole_rlu

if TYPE_CHECKING:
    from collections.abc import Callable

    from brewhygiene.science.errors import FloatArray
    from brewhygiene.science.limits.sample import IntArray

RAW, LOGS, PERCENTILE, TOLERANCE, COUNTS, LOGNORMAL = METHODS = (
    "raw",
    "logs",
    "percentile",
    "tolerance",
    "counts",
    "lognormal",
)
RESAMPLES = 999
RESAMPLES_OF_MANY = 399
SEED = 20_260_311
INTERVAL = 0.95
LEAST_FITTED = 20  # readings for a fitted distribution; common practice, no source
REJECTED = 0.01
DOUBTFUL = 0.05
MANY_ZEROS = 0.3


@dataclasses.dataclass(frozen=True)
class Level:
    """One limit: whole ``rlu`` (rounded up from ``exact_rlu``), its 95 % bootstrap interval.

    ``rank_low_rlu`` and ``rank_high_rlu`` bound a percentile by the readings' ranks alone, where
    there are enough readings for it.
    """

    rlu: int
    exact_rlu: float
    low_rlu: float
    high_rlu: float
    rank_low_rlu: float | None = None
    rank_high_rlu: float | None = None


@dataclasses.dataclass(frozen=True)
class Needed:
    """How many readings a limit takes, and how many more than there are."""

    readings: int
    more: int


@dataclasses.dataclass(frozen=True)
class Method:
    """What one method makes of the readings.

    ``why_not`` is empty where both limits may be used; a limit can be shown all the same.
    ``cautions`` are sentences; ``figures`` name what was fitted, in RLU or logs as named.
    """

    code: str
    alert: Level | None
    action: Level | None
    alert_needs: Needed
    action_needs: Needed
    why_not: str = ""
    cautions: tuple[str, ...] = ()
    goodness: Goodness | None = None
    figures: tuple[tuple[str, float], ...] = ()

    @property
    def usable(self) -> bool:
        return not self.why_not


@dataclasses.dataclass(frozen=True)
class _Resampled:
    """The readings as one row, and drawn again with replacement ``RESAMPLES`` times."""

    row: "IntArray"
    rows: "IntArray"


def resampled(sample: Sample, *, resamples: int = RESAMPLES) -> _Resampled:
    """``sample``, RLU, with ``resamples`` bootstrap samples (fewer of many), always the same."""
    import numpy as np

    rng = np.random.default_rng(SEED)
    values = sample.array()
    resamples = min(resamples, RESAMPLES if sample.size <= MANY else RESAMPLES_OF_MANY)
    drawn = rng.integers(0, sample.size, (resamples, sample.size))
    return _Resampled(row=values[None, :], rows=values[drawn])


def _level(
    here: float, there: "FloatArray", ranks: tuple[float | None, float | None] = (None, None)
) -> Level:
    import numpy as np

    there = there[np.isfinite(there)]
    edges = (1 - INTERVAL) / 2
    low, high = np.quantile(there, [edges, 1 - edges]) if len(there) else (here, here)
    return Level(whole_rlu(here), here, float(low), float(high), *ranks)


def _needed(readings: int, sample: Sample) -> Needed:
    return Needed(readings, max(0, readings - sample.size))


def _unfit(goodness: Goodness, shape: str) -> tuple[str, tuple[str, ...]]:
    """Why not, and cautions, by how well a distribution fits."""
    if goodness.p < REJECTED:
        return f"The readings do not follow {shape} (p = {digits(goodness.p, '.2g')}).", ()
    if goodness.p < DOUBTFUL:
        return "", (f"The readings may not follow {shape} (p = {digits(goodness.p, '.2g')}).",)
    return "", ()


def factors(asked: Asked, readings: int) -> tuple[float, float]:
    """k of alert level and action limit for ``readings`` readings: ``asked`` for, or exact."""
    if asked.alert_k is not None and asked.action_k is not None:
        return asked.alert_k, asked.action_k
    alert, action = (
        normal_factor(readings=readings, coverage=coverage, confidence=asked.confidence)
        for coverage in (asked.alert_coverage, asked.action_coverage)
    )
    return alert, action


def _mean_and_k(sample: Sample, drawn: _Resampled, asked: Asked, *, on_logs: bool) -> Method:
    limits: Callable[[IntArray, float], FloatArray] = (
        many.log_limits if on_logs else many.raw_limits
    )
    ks = factors(asked, sample.size)
    alert, action = (_level(float(limits(drawn.row, k)[0]), limits(drawn.rows, k)) for k in ks)
    goodness = goodness_normal(drawn.row, on_logs=on_logs)
    shape = "a normal distribution of log10(RLU+1)" if on_logs else "a normal distribution of RLU"
    why_not, cautions = _unfit(goodness, shape)
    zeros = sample.zeros / sample.size
    if on_logs and zeros > MANY_ZEROS:
        piled = (
            f"{100 * zeros:.0f} % of the readings are 0. A limit on logarithms is then unreliable."
        )
        cautions = (*cautions, piled)
    values = logs_of(drawn.row) if on_logs else drawn.row.astype(float)
    mean, sd = many.mean_and_sd(values)
    needs = _needed(LEAST_READINGS, sample)
    return Method(
        LOGS if on_logs else RAW,
        alert,
        action,
        needs,
        needs,
        why_not,
        cautions,
        goodness,
        (
            ("mean", float(mean[0])),
            ("SD", float(sd[0])),
            ("k, alert", ks[0]),
            ("k, action", ks[1]),
        ),
    )


def _short(alert: Needed, action: Needed, of: tuple[str, str]) -> str:
    """'' or how many readings are missing for which limit."""
    parts = [
        f"{name} needs {needs.readings} readings, {needs.more} more"
        for name, needs in zip(of, (alert, action), strict=True)
        if needs.more
    ]
    return "; ".join(parts).capitalize() + "." if parts else ""


def _percentile(sample: Sample, drawn: _Resampled, asked: Asked) -> Method:
    import numpy as np
    from scipy import stats

    found: list[Level | None] = []
    needs = []
    for coverage in (asked.alert_coverage, asked.action_coverage):
        needed = _needed(readings_for_percentile(coverage=coverage), sample)
        needs.append(needed)
        if needed.more:
            found.append(None)
            continue
        here = float(many.percentile_limits(drawn.row, coverage)[0])
        between = stats.quantile_test(drawn.row[0], q=here, p=coverage).confidence_interval(
            confidence_level=INTERVAL
        )
        low, high = (float(x) if np.isfinite(x) else None for x in (between.low, between.high))
        found.append(_level(here, many.percentile_limits(drawn.rows, coverage), (low, high)))
    names = tuple(
        f"the {percent(coverage)}th percentile"
        for coverage in (asked.alert_coverage, asked.action_coverage)
    )
    cautions: tuple[str, ...] = ()
    if found[1] is not None and found[1].rank_high_rlu is None:
        cautions = ("The action limit has no upper bound, because too few readings lie near it.",)
    return Method(
        PERCENTILE,
        found[0],
        found[1],
        needs[0],
        needs[1],
        _short(needs[0], needs[1], (names[0], names[1])),
        cautions,
    )


def _tolerance(sample: Sample, drawn: _Resampled, asked: Asked) -> Method:
    found: list[Level | None] = []
    needs: list[Needed] = []
    ranks: list[tuple[str, float]] = []
    for name, coverage in (("alert", asked.alert_coverage), ("action", asked.action_coverage)):
        needed = readings_needed(coverage=coverage, confidence=asked.confidence)
        needs.append(_needed(needed, sample))
        rank = bounding_rank(readings=sample.size, coverage=coverage, confidence=asked.confidence)
        if rank is None:
            found.append(None)
            continue
        ranks.append((f"rank from the largest, {name}", rank))
        found.append(
            _level(
                float(many.ranked_limits(drawn.row, rank)[0]), many.ranked_limits(drawn.rows, rank)
            )
        )
    sure = percent(asked.confidence)
    names = tuple(
        f"a bound for {percent(coverage)} % of clean readings with {sure} % confidence"
        for coverage in (asked.alert_coverage, asked.action_coverage)
    )
    return Method(
        TOLERANCE,
        found[0],
        found[1],
        needs[0],
        needs[1],
        _short(needs[0], needs[1], (names[0], names[1])),
        figures=tuple(ranks),
    )


def percent(share: float) -> str:
    """A ``share`` of 1 in %, without needless digits.

    >>> percent(0.95), percent(0.999)
    ('95', '99.9')
    """
    return f"{digits(100 * share, '.4g')}"


def _fitted(
    code: str,
    sample: Sample,
    asked: Asked,
    fits: tuple["CountFit | CensoredFit", "CountFit | CensoredFit"],
    goodness: Goodness,
    *,
    shape: str,
    cautions: tuple[str, ...],
    figures: tuple[tuple[str, float], ...],
) -> Method:
    here, there = fits
    alert, action = (
        _level(float(here.quantile(coverage)[0]), there.quantile(coverage))
        for coverage in (asked.alert_coverage, asked.action_coverage)
    )
    needs = _needed(LEAST_FITTED, sample)
    unfit, doubts = _unfit(goodness, shape)
    why_not = (
        f"A fitted distribution needs {LEAST_FITTED} readings, {needs.more} more."
        if needs.more
        else unfit
    )
    return Method(code, alert, action, needs, needs, why_not, cautions + doubts, goodness, figures)


def _counts(sample: Sample, drawn: _Resampled, asked: Asked) -> Method:
    here = fit_counts(drawn.row)
    some = drawn.rows[drawn.rows.sum(axis=1) > 0]
    size = float(here.size[0])
    cautions: tuple[str, ...] = ()
    if size >= LIKE_POISSON:
        cautions = ("They vary like random counts, so a Poisson distribution was fitted.",)
    return _fitted(
        COUNTS,
        sample,
        asked,
        (here, fit_counts(some)),
        goodness_counts(drawn.row, here),
        shape="a negative binomial distribution",
        cautions=cautions,
        figures=(("mean, RLU", float(here.mean[0])), ("size k", size)),
    )


def _lognormal(sample: Sample, drawn: _Resampled, asked: Asked) -> Method:
    import numpy as np

    row = drawn.row[0]
    above = row[row > 0]
    if len(above) < LEAST_SHOWN or len(np.unique(above)) < 2:
        # Every further reading is above 0 at most as often as until now.
        needed = Needed(sample.size * 2, sample.size)
        return Method(
            LOGNORMAL,
            None,
            None,
            needed,
            needed,
            f"Only {len(above)} readings are above 0, or all of those are equal. A lognormal needs "
            f"at least {LEAST_SHOWN} that differ, about {needed.more} more readings.",
        )
    mean, sd = left_censored_normal(np.log(np.maximum(row, 1)), row == 0)
    here = CensoredFit(np.array([mean]), np.array([sd]))
    zeros = sample.zeros
    cautions = (f"{zeros} readings of 0 were taken as below 1 RLU.",) if zeros else ()
    return _fitted(
        LOGNORMAL,
        sample,
        asked,
        (here, fit_censored(drawn.rows)),
        goodness_censored(drawn.row, here),
        shape="a lognormal distribution",
        cautions=cautions,
        figures=(("mean of ln RLU", mean), ("SD of ln RLU", sd)),
    )


def side_by_side(sample: Sample, asked: Asked, *, resamples: int = RESAMPLES) -> tuple[Method, ...]:
    """All methods for ``sample``, RLU, as ``asked``, in the order of ``METHODS``.

    ``resamples`` bootstrap samples give the intervals, the same ones every time.
    """
    drawn = resampled(sample, resamples=resamples)
    return (
        _mean_and_k(sample, drawn, asked, on_logs=False),
        _mean_and_k(sample, drawn, asked, on_logs=True),
        _percentile(sample, drawn, asked),
        _tolerance(sample, drawn, asked),
        _counts(sample, drawn, asked),
        _lognormal(sample, drawn, asked),
    )


def best_of(methods: tuple[Method, ...]) -> Method | None:
    """Which of ``methods``, in RLU each, to use where nothing else decides, or ``None``.

    First what needs no distribution and says how surely it holds; then, of the fitted ones, the
    mean + k SD of logs while few readings are 0, for it grows where readings are few; then the
    count and lognormal fits by how well they fit. Never the mean + k SD of raw RLU if another
    can be used: readings grow by factors.
    """
    by_code = {method.code: method for method in methods if method.usable}
    if TOLERANCE in by_code:
        return by_code[TOLERANCE]
    logs = by_code.get(LOGS)
    if logs is not None and not logs.cautions:
        return logs
    if PERCENTILE in by_code:
        return by_code[PERCENTILE]
    fitted = [by_code[code] for code in (COUNTS, LOGNORMAL) if code in by_code]
    if fitted:
        return max(fitted, key=lambda method: method.goodness.p if method.goodness else 0)
    return logs or by_code.get(RAW)
