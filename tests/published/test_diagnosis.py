"""Tables of two by two, ROC curves and cut-offs against published examples and scikit-learn.

Provenance of a number: read (seen in the source named or a copy of it), memory (recalled),
computed (worked out with the program named).
"""

from collections.abc import Callable, Sequence

import numpy as np
import pytest
from sklearn.metrics import cohen_kappa_score, roc_auc_score, roc_curve
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.proportion import proportion_confint

from brewhygiene.science.diagnosis.roc import roc_of, youden_cut_off
from brewhygiene.science.diagnosis.shares import share_of
from brewhygiene.science.diagnosis.table import TwoByTwo, diagnose, kappa_of
from tests.published import roc_readings as readings

Published = Callable[..., None]

EPIR = "epiR epi.tests help, example 1, after Scott et al. 2008 (computed with R epiR 2.0.57)"
ASAH = "Turck et al., Intensive Care Med. 36:107-115, 2010; Robin et al., BMC Bioinformatics 12:77, 2011 (computed with R pROC 1.18.0)"  # noqa: E501
ELASTASE = "Lopez-Raton et al., J. Stat. Software 61(8), 2014, elas (computed with R OptimalCutpoints 1.1-5)"  # noqa: E501
AIAG = "AIAG, Measurement Systems Analysis, 4th ed. 2010, attribute study, kappa (memory)"
SKLEARN = "scikit-learn on the same arrays (computed here)"
STATSMODELS = "statsmodels on the same numbers (computed here)"
NEWCOMBE = "Newcombe, Stat. Med. 17:857-872, 1998, table I, method 3 (read)"


def study(high: Sequence[float], low: Sequence[float]) -> tuple[list[float], list[bool]]:
    return [*high, *low], [True] * len(high) + [False] * len(low)


def test_table_of_two_by_two(published: Published) -> None:
    found = diagnose(TwoByTwo(hits=670, false_alarms=202, misses=74, quiet=640))
    for name, ours, theirs in (
        ("sensitivity", found.sensitivity.value, 0.90053763441),
        ("sensitivity, low", found.sensitivity.exact.low, 0.8767461768),
        ("sensitivity, high", found.sensitivity.exact.high, 0.9210922996),
        ("specificity", found.specificity.value, 0.76009501188),
        ("specificity, low", found.specificity.exact.low, 0.7297764632),
        ("specificity, high", found.specificity.exact.high, 0.7885803234),
        ("positive predictive value", found.ppv.value, 0.76834862385),
        ("negative predictive value", found.npv.value, 0.89635854342),
        ("likelihood ratio, positive", found.ratio_said.value, 3.75372617907),
        ("likelihood ratio, negative", found.ratio_not_said.value, 0.13085517473),
    ):
        published(name, ours, theirs, EPIR, 1e-8)


@pytest.mark.parametrize(
    "high, low, area, interval",
    [
        (readings.S100B_POOR, readings.S100B_GOOD, 0.7313686, (0.6301182, 0.8326189)),
        (readings.NDKA_POOR, readings.NDKA_GOOD, 0.611958, (0.501245, 0.722671)),
    ],
    ids=["S100B", "NDKA"],
)
def test_area_with_delong_interval(
    published: Published,
    high: Sequence[float],
    low: Sequence[float],
    area: float,
    interval: tuple[float, float],
) -> None:
    found = roc_of(*study(high, low)).area
    published("area under the curve", found.value, area, ASAH, 6e-7)
    published("DeLong limit, low", found.interval.low, interval[0], ASAH, 6e-7)
    published("DeLong limit, high", found.interval.high, interval[1], ASAH, 6e-7)


def test_youden_threshold_by_both_conventions(published: Published) -> None:
    best = youden_cut_off(roc_of(*study(readings.S100B_POOR, readings.S100B_GOOD)))
    published("sensitivity at Youden", best.sensitivity, 0.6341463415, ASAH, 1e-8)
    published("specificity at Youden", best.specificity, 0.8055555556, ASAH, 1e-8)
    published("threshold, smallest called positive", best.at_least, 0.22, ASAH, 1e-9)
    published("threshold, half way to the next", best.midpoint, 0.205, ASAH, 1e-9)
    counts = (best.hits, best.positives - best.hits, best.false_alarms)
    published("hits, misses, false alarms", counts, (26, 15, 14), ASAH)


def test_youden_cut_off_of_elastase(published: Published) -> None:
    roc = roc_of(*study(readings.ELASTASE_DISEASED, readings.ELASTASE_HEALTHY))
    best = youden_cut_off(roc)
    misses = best.positives - best.hits
    published("cut-off, at least", best.at_least, 37, ELASTASE)
    published("area under the curve", roc.area.value, 0.744, ELASTASE, 6e-4)
    published("sensitivity", best.sensitivity, 0.6875, ELASTASE, 1e-9)
    published("specificity", best.specificity, 0.6666666667, ELASTASE, 1e-9)
    published("Youden's index", best.youden, 0.3541666667, ELASTASE, 1e-9)
    published("false positives", best.false_alarms, 15, ELASTASE)
    published("false negatives", misses, 30, ELASTASE)
    sensitivity = share_of(count=best.hits, of=best.positives).exact
    specificity = share_of(count=best.negatives - best.false_alarms, of=best.negatives).exact
    published("sensitivity, low", sensitivity.low, 0.5848184025, ELASTASE, 1e-8)
    published("sensitivity, high", sensitivity.high, 0.7782473557, ELASTASE, 1e-8)
    published("specificity, low", specificity.low, 0.5104963621, ELASTASE, 1e-8)
    published("specificity, high", specificity.high, 0.799994312, ELASTASE, 1e-8)


@pytest.mark.parametrize(
    "high, low",
    [
        (readings.S100B_POOR, readings.S100B_GOOD),
        (readings.NDKA_POOR, readings.NDKA_GOOD),
        (readings.ELASTASE_DISEASED, readings.ELASTASE_HEALTHY),
    ],
    ids=["S100B", "NDKA", "elastase"],
)
def test_curve_by_another_road(
    published: Published, high: Sequence[float], low: Sequence[float]
) -> None:
    scores, positive = study(high, low)
    roc = roc_of(scores, positive)
    alarms, hits, thresholds = roc_curve(positive, scores, drop_intermediate=False)
    ours = np.array([(1 - cut.specificity, cut.sensitivity) for cut in roc.cut_offs])
    published("points of the curve", len(ours), len(thresholds), SKLEARN)
    apart = float(np.abs(ours - np.column_stack((alarms, hits))).max())
    published("farthest point of the curve, apart", apart, 0, SKLEARN, 1e-12)
    named = [cut.at_least for cut in roc.cut_offs[1:]]
    published("thresholds", named, thresholds[1:].tolist(), SKLEARN)
    published("area", roc.area.value, float(roc_auc_score(positive, scores)), SKLEARN, 1e-12)


@pytest.mark.parametrize(
    "name, cells, kappa",
    [
        ("A and B", (44, 6, 3, 97), 0.863),
        ("B and C", (42, 5, 9, 94), 0.788),
        ("A and C", (43, 7, 8, 92), 0.776),
    ],
)
def test_kappa_of_two_appraisers(
    published: Published, name: str, cells: tuple[int, int, int, int], kappa: float
) -> None:
    a, b, c, d = cells
    table = TwoByTwo(hits=a, false_alarms=b, misses=c, quiet=d)
    ours = kappa_of(table)
    published(f"kappa of {name}", ours.value, kappa, AIAG, 6e-4)
    theirs = cohens_kappa([[a, b], [c, d]])
    published(f"kappa of {name}", ours.value, float(theirs.kappa), STATSMODELS, 1e-12)
    published(
        f"lower limit of {name}", ours.interval.low, float(theirs.kappa_low), STATSMODELS, 1e-9
    )
    published(
        f"upper limit of {name}", ours.interval.high, float(theirs.kappa_upp), STATSMODELS, 1e-9
    )
    one = [1] * (a + b) + [0] * (c + d)
    other = [1] * a + [0] * b + [1] * c + [0] * d
    published(f"kappa of {name}", ours.value, float(cohen_kappa_score(one, other)), SKLEARN, 1e-12)


@pytest.mark.parametrize(
    "count, of, low, high",
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_limits(published: Published, count: int, of: int, low: float, high: float) -> None:
    ours = share_of(count=count, of=of)
    published(f"Wilson, {count} of {of}, low", ours.interval.low, low, NEWCOMBE, 6e-5)
    published(f"Wilson, {count} of {of}, high", ours.interval.high, high, NEWCOMBE, 6e-5)
    for name, method, interval in (
        ("Wilson", "wilson", ours.interval),
        ("exact", "beta", ours.exact),
    ):
        theirs = proportion_confint(count, of, method=method)
        published(
            f"{name}, {count} of {of}, low", interval.low, float(theirs[0]), STATSMODELS, 1e-9
        )
        published(
            f"{name}, {count} of {of}, high", interval.high, float(theirs[1]), STATSMODELS, 1e-9
        )
