"""Limits against published factors, tables and worked examples.

Provenance of a number: read (seen in the source named or in a copy of it), memory (recalled),
computed (worked out with the program named from numbers that were read).
"""

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats
from statsmodels.discrete.discrete_model import NegativeBinomial
from statsmodels.stats.proportion import proportion_confint

from brewhygiene.science.limits.censored import fit_censored, left_censored_normal
from brewhygiene.science.limits.counts import CountFit, fit_counts
from brewhygiene.science.limits.factors import normal_factor
from brewhygiene.science.limits.groups.between import parts_of_variance
from brewhygiene.science.limits.many import log_limits, mean_and_sd
from brewhygiene.science.limits.ranks import (
    bounding_rank,
    rank_confidence,
    readings_needed,
)
from brewhygiene.science.limits.sample import most_above_share

Published = Callable[..., None]


def _numbers(text: str) -> list[float]:
    return [float(word) for word in text.split()]


TABLE_XII = (
    "Montgomery and Runger, Applied Statistics and Probability for Engineers, 7th ed. (2018), "
    "Table XII (read in the tests of a package that quotes it)"
)
# Coverage and confidence of the nine columns, then n and k1, as printed.
COLUMNS = [
    (coverage, confidence) for confidence in (0.90, 0.95, 0.99) for coverage in (0.90, 0.95, 0.99)
]
K1 = """
2 10.253 13.09 18.5 20.581 26.26 37.094 103.029 131.426 185.617
3 4.258 5.311 7.34 6.155 7.656 10.553 13.995 17.37 23.896
4 3.188 3.957 5.438 4.162 5.144 7.042 7.38 9.083 12.387
5 2.742 3.4 4.666 3.407 4.203 5.741 5.362 6.578 8.939
6 2.494 3.092 4.243 3.006 3.708 5.062 4.411 5.406 7.335
7 2.333 2.894 3.972 2.755 3.399 4.642 3.859 4.728 6.412
8 2.219 2.754 3.783 2.582 3.187 4.354 3.497 4.285 5.812
9 2.133 2.65 3.641 2.454 3.031 4.143 3.24 3.972 5.389
10 2.066 2.568 3.532 2.355 2.911 3.981 3.048 3.738 5.074
11 2.011 2.503 3.443 2.275 2.815 3.852 2.898 3.556 4.829
12 1.966 2.448 3.371 2.21 2.736 3.747 2.777 3.41 4.633
13 1.928 2.402 3.309 2.155 2.671 3.659 2.677 3.29 4.472
14 1.895 2.363 3.257 2.109 2.614 3.585 2.593 3.189 4.337
15 1.867 2.329 3.212 2.068 2.566 3.52 2.521 3.102 4.222
16 1.842 2.299 3.172 2.033 2.524 3.464 2.459 3.028 4.123
17 1.819 2.272 3.137 2.002 2.486 3.414 2.405 2.963 4.037
18 1.8 2.249 3.105 1.974 2.453 3.37 2.357 2.905 3.96
19 1.782 2.227 3.077 1.949 2.423 3.331 2.314 2.854 3.892
20 1.765 2.208 3.052 1.926 2.396 3.295 2.276 2.808 3.832
21 1.75 2.19 3.028 1.905 2.371 3.263 2.241 2.766 3.777
22 1.737 2.174 3.007 1.886 2.349 3.233 2.209 2.729 3.727
23 1.724 2.159 2.987 1.869 2.328 3.206 2.18 2.694 3.681
24 1.712 2.145 2.969 1.853 2.309 3.181 2.154 2.662 3.64
25 1.702 2.132 2.952 1.838 2.292 3.158 2.129 2.633 3.601
30 1.657 2.08 2.884 1.777 2.22 3.064 2.03 2.515 3.447
40 1.598 2.01 2.793 1.697 2.125 2.941 1.902 2.364 3.249
50 1.559 1.965 2.735 1.646 2.065 2.862 1.821 2.269 3.125
60 1.532 1.933 2.694 1.609 2.022 2.807 1.764 2.202 3.038
70 1.511 1.909 2.662 1.581 1.99 2.765 1.722 2.153 2.974
80 1.495 1.89 2.638 1.559 1.964 2.733 1.688 2.114 2.924
90 1.481 1.874 2.618 1.542 1.944 2.706 1.661 2.082 2.883
100 1.47 1.861 2.601 1.527 1.927 2.684 1.639 2.056 2.85
"""


def test_normal_factors_are_as_in_the_table(published: Published) -> None:
    for line in K1.strip().splitlines():
        number, *factors = line.split()
        for (coverage, confidence), factor in zip(COLUMNS, factors, strict=True):
            ours = normal_factor(readings=int(number), coverage=coverage, confidence=confidence)
            name = f"k1, n {number}, {100 * coverage:.0f} % covered, {100 * confidence:.0f} % sure"
            published(name, ours, float(factor), TABLE_XII, 0.0025)


EPA_17_3 = (
    "US EPA Unified Guidance, EPA 530-R-09-007 (2009), example 17-3, p. 17-17 (read in the help "
    "of R EnvStats 3.1.0)"
)
CHRYSENE = [19.7, 39.2, 7.8, 12.8, 10.2, 7.2, 16.1, 5.7]


def test_lognormal_upper_tolerance_limit_is_as_published(published: Published) -> None:
    """The example's logs are of the values themselves, ours of RLU + 1: hence values less one."""
    logs = np.log([CHRYSENE])
    mean, sd = mean_and_sd(logs)
    k = normal_factor(readings=8, coverage=0.95, confidence=0.95)
    published("chrysene, mean of ln ppb", float(mean[0]), 2.5085773, EPA_17_3, 1e-6)
    published("the same, SD", float(sd[0]), 0.6279479, EPA_17_3, 1e-6)
    published("k, n 8, 95 %/95 %", k, 3.1872936, EPA_17_3, 1e-6)
    limit = float(log_limits(np.array([CHRYSENE]) - 1, k)[0]) + 1
    published("upper tolerance limit, ppb", limit, 90.9247, EPA_17_3, 1e-4)


EPA_17_4 = (
    "US EPA Unified Guidance, EPA 530-R-09-007 (2009), example 17-4, p. 17-21 (read in the help "
    "of R EnvStats 3.1.0)"
)


def test_largest_of_24_bounds_as_published(published: Published) -> None:
    sure = rank_confidence(readings=24, coverage=0.95)
    published("confidence that 95 % lie below it", sure, 0.708011, EPA_17_4, 1e-6)
    published(
        "samples needed for 95 %/95 %",
        readings_needed(coverage=0.95, confidence=0.95),
        59,
        EPA_17_4,
    )
    rank = bounding_rank(readings=24, coverage=0.95, confidence=0.95)
    published("a bound for 95 %/95 % from 24", rank, None, EPA_17_4)


WILKS = (
    "Wilks, Ann. Math. Stat. 12 (1941) 91-96; Natrella, NBS Handbook 91 (1963) "
    "(59, 93, 124, 153, 181, 208 read in the help of R EnvStats; the others computed with R)"
)
SIZES = {
    "90/90": [22, 38, 52, 65, 78],
    "90/95": [29, 46, 61, 76, 89],
    "90/99": [44, 64, 81, 97, 113],
    "95/90": [45, 77, 105, 132, 158],
    "95/95": [59, 93, 124, 153, 181],
    "95/99": [90, 130, 165, 198, 229],
    "99/90": [230, 388, 531, 667, 798],
    "99/95": [299, 473, 628, 773, 913],
    "99/99": [459, 662, 838, 1001, 1157],
}


@pytest.mark.parametrize("which", SIZES)
def test_sample_sizes_are_those_of_wilks(published: Published, which: str) -> None:
    coverage, confidence = (int(part) / 100 for part in which.split("/"))
    for rank, size in enumerate(SIZES[which], start=1):
        ours = readings_needed(coverage=coverage, confidence=confidence, rank=rank)
        published(f"n for {which}, rank {rank}", ours, size, WILKS)
        assert bounding_rank(readings=size, coverage=coverage, confidence=confidence) == rank


def test_two_sided_sizes_are_one_sided_of_the_next_rank(published: Published) -> None:
    """The r-th smallest and largest together leave out as many as the 2r-th largest alone."""
    ours = [readings_needed(coverage=0.95, confidence=0.95, rank=rank) for rank in (2, 3, 4, 5, 6)]
    published("n for 95/95, two-sided, ranks out 2 to 6", ours, [93, 124, 153, 181, 208], WILKS)


ACE = (
    "US Army Corps of Engineers EM 200-1-16 (2013), TCE example (read in the help of R EnvStats "
    "3.1.0; exact ranks computed with R)"
)
TCE = {
    "before": ([5.96, 8.18, 9.13, 9.17, 19.7, 20.9, 28.5, 34.3, 38.9, 41.5], 20.3, (8.18, 38.9)),
    "after": ([0.272, 0.52, 0.917, 1.48, 1.9, 3.06, 4.34, 4.37, 8.77, 10.7], 2.48, (0.52, 8.77)),
}


@pytest.mark.parametrize("when", TCE)
def test_percentile_has_the_published_interval(published: Published, when: str) -> None:
    """The library's interval that the percentile method shows, by the same call."""
    values, median, (low, high) = TCE[when]
    ours = float(np.quantile(values, 0.5, method="weibull"))
    between = stats.quantile_test(values, q=ours, p=0.5).confidence_interval(confidence_level=0.95)
    published(f"TCE {when}, median, mg/L", ours, median, ACE, 1e-9)
    published(f"TCE {when}, lower, mg/L", float(between.low), low, ACE)
    published(f"TCE {when}, upper, mg/L", float(between.high), high, ACE)


FROMONT = (
    "Fromont et al., Parasitology 123 (2001) 143-151, fitted in fitdistrplus, J. Stat. Software "
    "64(4) (data and output read in fitdistrplus 1.1-8; its optimiser stops early)"
)
TOXOCARA = _numbers("""
    0 0 0 0 0 0 0 0 0 0 0 0 0 0 1 1 1 1 1 1 1 1 2 2 2 2 2 3 4 4 4 4 4 4 5 5 6 7 9 9 11 12 16 19
    20 21 28 28 30 33 40 41 75
""")


def test_negative_binomial_is_as_published(published: Published) -> None:
    fit = fit_counts(np.array([TOXOCARA], dtype=np.int64))
    published("Toxocara, 53 cats: size", float(fit.size[0]), 0.3971457, FROMONT, 0.002)
    published("the same, mean", float(fit.mean[0]), 8.680252, FROMONT, 0.002)
    likelihood = fit.log_likelihood(np.array(TOXOCARA, dtype=np.int64))
    published("the same, log-likelihood", likelihood, -159.3441, FROMONT, 1e-4)
    quantiles = [int(fit.quantile(share)[0]) for share in (0.5, 0.9, 0.95, 0.99)]
    published("its 50, 90, 95 and 99 % points", quantiles, [3, 25, 37, 67], FROMONT)
    poisson = CountFit(mean=fit.mean, size=np.array([1e9])).log_likelihood(
        np.array(TOXOCARA, dtype=np.int64)
    )
    published("Poisson, log-likelihood", poisson, -507.5334, FROMONT, 2e-4)


def test_negative_binomial_is_that_of_statsmodels(published: Published) -> None:
    rng = np.random.default_rng(8)
    for mean, size in ((6.0, 1.5), (1.2, 0.4), (40.0, 3.0)):
        counts = rng.negative_binomial(size, size / (size + mean), 90)
        theirs = NegativeBinomial(counts, np.ones(len(counts))).fit(
            disp=0, method="bfgs", maxiter=500
        )
        ours = fit_counts(counts[None, :])
        where = f"90 counts drawn with mean {mean:g}, size {size:g}"
        expected = 1 / float(theirs.params[1])
        published(f"{where}: size", float(ours.size[0]), expected, "statsmodels", 2e-3 * expected)
        likelihood = ours.log_likelihood(counts)
        published(f"{where}: log-likelihood", likelihood, float(theirs.llf), "statsmodels", 1e-4)


EPA_15_1 = (
    "US EPA Unified Guidance, EPA 530-R-09-007 (2009), example 15-1 (read in the help of R "
    "EnvStats 3.1.0 and run in R)"
)
MANGANESE = _numbers("""
    5.0 12.1 16.9 21.6 2.0 5.0 7.7 53.6 9.5 45.9 5.0 5.3 12.6 106.3 34.5 6.3 11.9 10.0 2.0 77.2
    17.9 22.7 3.3 8.4 2.0
""")
MANGANESE_BELOW = _numbers("""
    1 0 0 0 1 1 0 0 0 0 1 0 0 0 0 0 0 0 1 0 0 0 0 0 1
""")


def test_manganese_below_two_bounds_is_as_published(published: Published) -> None:
    mean, sd = left_censored_normal(np.log(MANGANESE), np.array(MANGANESE_BELOW))
    published("manganese, 6 of 25 below 2 or 5 ppb: mean of logs", mean, 2.215905, EPA_15_1, 5e-5)
    published("the same, SD", sd, 1.356291, EPA_15_1, 5e-5)


OAHU = (
    "Helsel, Nondetects and Data Analysis (2005), chapter 6, data Tomlinson (2003) (read in R "
    "NADA; computed with R NADA 1.6-1.1, cenmle)"
)
ARSENIC = _numbers("""
    1.0 1.0 1.7 1.0 1.0 2.0 3.2 2.0 2.0 2.8 2.0 2.0 2.0 2.0 2.0 0.7 0.9 0.5 0.5 0.9 0.5 0.7 0.6
    1.5
""")
ARSENIC_BELOW = _numbers("""
    1 1 0 1 1 1 0 1 1 0 1 1 1 1 1 0 0 0 0 1 0 0 0 0
""")


def test_arsenic_half_below_is_as_published(published: Published) -> None:
    mean, sd = left_censored_normal(np.log(ARSENIC), np.array(ARSENIC_BELOW))
    middle = math.exp(mean)
    average = math.exp(mean + sd**2 / 2)
    spread = average * math.sqrt(math.exp(sd**2) - 1)
    published("arsenic, 13 of 24 below: median, ug/L", middle, 0.77660066, OAHU, 2e-4)
    published("the same, mean, ug/L", average, 0.94525852, OAHU, 2e-4)
    published("the same, SD, ug/L", spread, 0.65592615, OAHU, 3e-4)


def test_many_censored_fits_are_scipys(published: Published) -> None:
    """The fit of all samples at once against SciPy's of each."""
    rng = np.random.default_rng(9)
    values = np.exp(rng.normal(1.2, 0.9, (4, 50)))
    samples = np.where(values < 1, 0, np.rint(values)).astype(np.int64)
    ours = fit_censored(samples)
    for row, sample in enumerate(samples):
        mean, sd = left_censored_normal(np.log(np.maximum(sample, 1)), sample == 0)
        where = f"sample {row}, {int((sample == 0).sum())} zeros of 50"
        published(f"{where}: mean of ln RLU", float(ours.mean_log[row]), mean, "SciPy", 2e-4)
        published(f"{where}: SD", float(ours.sd_log[row]), sd, "SciPy", 2e-4)


RULE_OF_THREE = (
    "Hanley and Lippman-Hand, JAMA 249 (1983) 1743-1745; Jovanovic and Levy, Am. Stat. 51 (1997) "
    "137-139 (memory, recomputed)"
)
NOTHING_IN = [10, 20, 30, 59, 100, 167, 300]
UPPER = [0.258866, 0.139108, 0.095034, 0.049508, 0.029513, 0.017779, 0.009936]


@pytest.mark.parametrize("readings, upper", list(zip(NOTHING_IN, UPPER, strict=True)))
def test_nothing_seen_bounds_as_published(
    published: Published, readings: int, upper: float
) -> None:
    ours = most_above_share(readings=readings, confidence=0.95)
    published(
        f"0 of {readings}: exact upper bound, one-sided 95 %", ours, upper, RULE_OF_THREE, 1e-6
    )
    _, theirs = proportion_confint(0, readings, alpha=0.10, method="beta")
    published(f"0 of {readings}: by Clopper and Pearson", ours, float(theirs), "statsmodels", 1e-9)
    rough = f"0 of {readings}: within the rule of three, 3/n"
    published(rough, ours < 3 / readings < 1.2 * ours, True, RULE_OF_THREE)


SUCCESS_RUN = "success-run theorem, n = ln(1-C)/ln R (memory, recomputed)"
RUNS = [
    (0.8, 0.9, 11),
    (0.8, 0.95, 14),
    (0.9, 0.9, 22),
    (0.9, 0.95, 29),
    (0.95, 0.9, 45),
    (0.95, 0.95, 59),
    (0.95, 0.99, 90),
    (0.99, 0.9, 230),
    (0.99, 0.95, 299),
    (0.99, 0.99, 459),
]


def test_success_runs_are_as_published(published: Published) -> None:
    for reliability, confidence, size in RUNS:
        ours = readings_needed(coverage=reliability, confidence=confidence)
        published(f"n for {reliability:g}, {confidence:g} sure", ours, size, SUCCESS_RUN)


STRD = "NIST StRD, univariate summary statistics (1998), certified values (read)"
MICHELSO = _numbers("""
    299.85 299.74 299.9 300.07 299.93 299.85 299.95 299.98 299.98 299.88 300.0 299.98 299.93
    299.65 299.76 299.81 300.0 300.0 299.96 299.96 299.96 299.94 299.96 299.94 299.88 299.8
    299.85 299.88 299.9 299.84 299.83 299.79 299.81 299.88 299.88 299.83 299.8 299.79 299.76
    299.8 299.88 299.88 299.88 299.86 299.72 299.72 299.62 299.86 299.97 299.95 299.88 299.91
    299.85 299.87 299.84 299.84 299.85 299.84 299.84 299.84 299.89 299.81 299.81 299.82 299.8
    299.77 299.76 299.74 299.75 299.76 299.91 299.92 299.89 299.86 299.88 299.72 299.84 299.85
    299.85 299.78 299.89 299.84 299.78 299.81 299.76 299.81 299.79 299.81 299.82 299.85 299.87
    299.87 299.81 299.74 299.81 299.94 299.95 299.8 299.81 299.87
""")
MAVRO = _numbers("""
    2.0018 2.0017 2.0018 2.0019 2.0018 2.0017 2.0015 2.0014 2.0015 2.0015 2.0017 2.0018 2.0018
    2.0019 2.0019 2.0021 2.002 2.0016 2.0014 2.0013 2.0013 2.0015 2.0015 2.0016 2.0015 2.0014
    2.0013 2.0014 2.0015 2.0014 2.0015 2.0016 2.0015 2.0016 2.0019 2.002 2.002 2.0021 2.0022
    2.0023 2.0024 2.0025 2.0027 2.0026 2.0026 2.0026 2.0027 2.0026 2.0025 2.0024
""")
NUM_ACC_4 = [10000000.2, *([10000000.1, 10000000.3] * 500)]
CERTIFIED = [
    ("Michelso", MICHELSO, 299.8524, 0.0790105478190518, 1e-11),
    ("Mavro", MAVRO, 2.001856, 0.000429123454003053, 1e-11),
    ("NumAcc4", NUM_ACC_4, 10000000.2, 0.1, 1e-8),
]


@pytest.mark.parametrize("name, values, mean, sd, near", CERTIFIED)
def test_mean_and_sd_are_as_certified(
    published: Published, name: str, values: list[float], mean: float, sd: float, near: float
) -> None:
    means, sds = mean_and_sd(np.array([values]))
    published(f"{name}, mean", float(means[0]), mean, STRD, near)
    published(f"{name}, SD", float(sds[0]), sd, STRD, near)


LOOMS = {
    "1": [98, 97, 99, 96],
    "2": [91, 90, 93, 92],
    "3": [96, 95, 97, 95],
    "4": [95, 96, 99, 98],
}
RANDOM_EFFECTS = (
    "Montgomery, Design and Analysis of Experiments, strength of fabric by loom (memory, numbers "
    "and results)"
)


def test_parts_of_variance_of_looms(published: Published) -> None:
    found = parts_of_variance(LOOMS)
    published("mean square of looms", found.mean_square_between, 29.73, RANDOM_EFFECTS, 0.005)
    published("mean square within looms", found.mean_square_within, 1.90, RANDOM_EFFECTS, 0.005)
    published("variance between looms", found.between, 6.96, RANDOM_EFFECTS, 0.005)
    published("share between looms", found.share, 0.79, RANDOM_EFFECTS, 0.005)
