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
from brewhygiene.quantities.words import percent
from brewhygiene.science.limits.drift import Drift
from brewhygiene.science.limits.groups.between import Between
from brewhygiene.science.limits.groups.pooling import LEAST_IN_GROUP, Pooling


def pooling_words(pooling: Pooling, *, one: str = "point") -> str:
    """The result of the tests of the points, or of the vessels."""
    if pooling.answer == "one":
        return f"All readings are of one {one}."
    if pooling.answer == "few":
        return f"Too few {one}s have {LEAST_IN_GROUP} readings, so the {one}s cannot be compared."
    assert pooling.level_p is not None
    assert pooling.spread_p is not None
    assert pooling.factor is not None
    tests = (
        f"Levels: Kruskal–Wallis, {p_words(pooling.level_p)}. Spreads: "
        f"Brown–Forsythe on logs, {p_words(pooling.spread_p)}. The highest {one} reads "
        f"{digits(pooling.factor, '.2g')} times the lowest, in RLU + 1."
    )
    left = ", ".join(pooling.left_out)
    more = f" Not tested, too few readings: {left}." if left else ""
    if pooling.answer == "should_not":
        return f"The {one}s differ and should not share limits. {tests}{more}"
    return f"No difference between the {one}s was found. {tests}{more}"


def between_words(between: Between) -> str:
    """How much of the spread is between vessels, in words."""
    return (
        f"{percent(between.share)} of the spread of the logs is between vessels. One standard "
        f"deviation is a factor of {digits(between.factor_between, '.2g')} between vessels and of "
        f"{digits(between.factor_within, '.2g')} from clean to clean of one vessel, in RLU + "
        "1. Readings of "
        f"one vessel are alike, so that {between.readings} readings say as much about the common "
        f"level as about {between.worth:.0f} independent ones."
    )


def between_working(between: Between) -> list[tuple[str, str]]:
    """The sums behind it, of log10(RLU+1), line by line."""
    every = between.between + between.within
    return [
        ("Vessels, readings", f"{between.groups}, {between.readings}"),
        ("Mean square between vessels", digits(between.mean_square_between, ".4g")),
        ("Mean square within vessels", digits(between.mean_square_within, ".4g")),
        ("Readings a vessel, as weighted", digits(between.usual_size, ".4g")),
        (
            "Variance between vessels",
            f"({digits(between.mean_square_between, '.4g')} − "
            f"{digits(between.mean_square_within, '.4g')}) / "
            f"{digits(between.usual_size, '.4g')} = {digits(between.between, '.4g')}"
            + (", at least 0" if between.between == 0 else ""),
        ),
        ("Variance within vessels", digits(between.within, ".4g")),
        (
            "Share between vessels",
            f"{digits(between.between, '.4g')} / {digits(every, '.4g')} = {percent(between.share)}",
        ),
        ("F test", p_words(between.f_p)),
        ("Readings of the vessel read most", percent(between.largest_share)),
    ]


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


def _of_vessels(study: Study, *, drawn: bool) -> dict[str, Any]:
    """What a baseline for a kind of vessel shows of its vessels."""
    if study.vessels is None:
        return {}
    pooling, between = study.vessels.pooling, study.vessels.between
    return {
        "vessels_words": pooling_words(pooling, one="vessel"),
        "vessels_figure": pooling_figure(pooling, one="vessel") if drawn else None,
        "between_words": between_words(between) if between is not None else "",
        "between_working": between_working(between) if between is not None else [],
    }


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
        **_of_vessels(study, drawn=drawn),
        "drift_figure": drift_figure(counted) if drawn else None,
        "drift_words": drift_words(study.drift),
        "sets": limits_from(study.baseline),
        "today": today,
    }
