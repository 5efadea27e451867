"""What the page of a baseline's study shows."""

from datetime import date
from typing import Any

from brewhygiene.atp.baselines.figures import (
    drift_figure,
    histograms,
    methods_figure,
    normal_plot,
    pooling_figure,
)
from brewhygiene.atp.baselines.queries import limits_from
from brewhygiene.atp.baselines.study import Study
from brewhygiene.atp.baselines.words import p_words
from brewhygiene.quantities.style import digits
from brewhygiene.science.limits.drift import Drift
from brewhygiene.science.limits.pooling import LEAST_IN_GROUP, Pooling


def pooling_words(pooling: Pooling) -> str:
    """The result of the tests of the points."""
    if pooling.answer == "one":
        return "All readings are of one point."
    if pooling.answer == "few":
        return f"Too few points have {LEAST_IN_GROUP} readings, so the points cannot be compared."
    assert pooling.level_p is not None
    assert pooling.spread_p is not None
    assert pooling.factor is not None
    tests = (
        f"Levels: Kruskal–Wallis, {p_words(pooling.level_p)}. Spreads: "
        f"Brown–Forsythe on logs, {p_words(pooling.spread_p)}. The highest point reads "
        f"{digits(pooling.factor, '.2g')} times the lowest, in RLU + 1."
    )
    left = ", ".join(pooling.left_out)
    more = f" Not tested, too few readings: {left}." if left else ""
    if pooling.answer == "should_not":
        return f"The points differ and should not share limits. {tests}{more}"
    return f"No difference between the points was found. {tests}{more}"


def drift_words(drift: Drift | None) -> str:
    """The result of the tests of time."""
    if drift is None:
        return "A trend cannot be tested: too few days, or all readings are equal."
    trend = (
        f"Mann–Kendall, {p_words(drift.trend_p)}. Theil–Sen: RLU + 1 changed by a factor of "
        f"{digits(drift.factor_per_30_days, '.2f')} in 30 days (95 % interval: "
        f"{digits(drift.factor_low, '.2f')} to "
        f"{digits(drift.factor_high, '.2f')})."
    )
    runs = f" Runs test, {p_words(drift.runs_p)}." if drift.runs_p is not None else ""
    if drift.moved:
        return f"The readings changed during the baseline. {trend}{runs}"
    if drift.in_spells:
        return f"No steady trend, but the readings came in runs. {trend}{runs}"
    return f"No trend was found. {trend}{runs}"


def study_context(study: Study, *, today: date) -> dict[str, Any]:
    """For ``atp/baseline.html``. 1 query beyond the study's."""
    counted = study.members.counted
    drawn = study.distribution is not None
    return {
        "study": study,
        "baseline": study.baseline,
        "counted": sorted(counted, key=lambda result: (-result.rlu, result.taken_at)),
        "excluded": study.members.excluded,
        "histograms": histograms(study),
        "normal_plot": normal_plot(study),
        "methods_figure": methods_figure(study),
        "pooling_figure": pooling_figure(study.pooling) if drawn and study.pooling else None,
        "pooling_words": pooling_words(study.pooling) if study.pooling else "",
        "drift_figure": drift_figure(counted) if drawn else None,
        "drift_words": drift_words(study.drift),
        "sets": limits_from(study.baseline),
        "today": today,
    }
