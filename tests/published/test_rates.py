"""Shares, funnels and counts against published examples.

Provenance of a number: read (seen in the source named or a copy of it), memory (recalled),
computed (worked out by another program from numbers that were read).
"""

from collections.abc import Callable

import pytest
from scipy.stats import binom

from brewhygiene.science.counting.poisson import poisson_interval
from brewhygiene.science.rates.funnel import (
    INNER,
    OUTER,
    binomial_quantile,
    funnel,
    over_dispersion,
    z_scores,
)
from brewhygiene.science.rates.proportions import wilson

Published = Callable[..., None]

NEWCOMBE_3 = (
    "Newcombe, Stat. Med. 17 (1998) 857-872, Table I, method 3 (read in four public test files)"
)
NEWCOMBE_5 = (
    "Newcombe, Stat. Med. 17 (1998) 857-872, Table I, method 5 (memory; reproduced by R binom)"
)
COVERAGE = "Brown, Cai, DasGupta, Statistical Science 16 (2001) 101-133, section 2 (memory)"
CHILD_HEART = "30-day survival after child heart surgery 2012-15, Spiegelhalter, The Art of Statistics, Table 1.1 (data read; limits computed with R 4.2.2 by Spiegelhalter, Stat. Med. 24 (2005), App. A.1, formula from memory)"  # noqa: E501
BRISTOL = "Mortality under 1 year, 12 UK hospitals 1991-95 (data read; z and phi computed with R 4.2.2, formulas from memory: Spiegelhalter, Qual. Saf. Health Care 14 (2005) 347-351)"  # noqa: E501
POISSON = "R FunnelPlotR 0.6.0, tests/testthat/test-poisson_limits.R (read)"
GARWOOD = (
    "Garwood, Biometrika 28 (1936) 437-442 (table from memory, digits computed with R poisson.test)"
)
RULE_OF_THREE = "Hanley, Lippman-Hand, JAMA 249 (1983) 1743-1745 (memory; recomputed)"


@pytest.mark.parametrize(
    "count, number, low, high",
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson(published: Published, count: int, number: int, low: float, high: float) -> None:
    found = wilson(count=count, number=number)
    published(f"{count}/{number}, Wilson's lower end, 1", found.low, low, NEWCOMBE_3, 5.1e-5)
    published(f"{count}/{number}, Wilson's upper end, 1", found.high, high, NEWCOMBE_3, 5.1e-5)


@pytest.mark.parametrize(
    "number, share, usual", [(30, 0.2, 0.946), (98, 0.2, 0.928), (17, 0.5, 0.951), (40, 0.5, 0.919)]
)
def test_wilson_covers_where_the_usual_interval_falls_short(
    published: Published, number: int, share: float, usual: float
) -> None:
    """The usual one, share ± 1.96 standard errors, is why ours is another."""

    def covered(holds: Callable[[int], bool]) -> float:
        return sum(binom.pmf(k, number, share) for k in range(number + 1) if holds(k))

    def usual_holds(count: int) -> bool:
        found = count / number
        return abs(found - share) <= 1.959964 * (found * (1 - found) / number) ** 0.5

    def ours_holds(count: int) -> bool:
        found = wilson(count=count, number=number)
        return found.low <= share <= found.high

    published(
        f"coverage of the usual interval, n = {number}, p = {share}, 1",
        covered(usual_holds),
        usual,
        COVERAGE,
        6e-4,
    )
    assert abs(covered(ours_holds) - 0.95) <= abs(usual - 0.95) + 0.02


# Operations and survivors by hospital; then limits of survival at 0.1, 2.5, 97.5 and 99.9 %.
CHILD_HEART_ROWS = [
    (418, 413, 0.954057232115, 0.963916186192, 0.990899036596, 0.996403785796, 1.2129602768),
    (
        607,
        593,
        0.959008097086,
        0.966898568602,
        0.989371196958,
        0.994224357694,
        -0.47629850020603354,
    ),
    (668, 653, 0.96004594393, 0.967511137276, 0.988977537936, 0.99365940923, -0.3881125173),
    (760, 733, 0.961445470059, 0.968421363928, 0.98844414067, 0.992980740866, -2.9670087446),
    (829, 815, 0.962328833041, 0.968899580501, 0.988106057605, 0.992494083181, 0.7033107629),
    (835, 821, 0.962370449924, 0.968966789879, 0.988050355544, 0.992472312562, 0.7306949327),
    (983, 960, 0.96387781612, 0.969854165916, 0.987528465313, 0.99162650584, -0.6802075735),
    (
        1038,
        1016,
        0.964403215702,
        0.97017955447,
        0.987327614478,
        0.991293227246,
        -0.19608292434151253,
    ),
    (
        1094,
        1075,
        0.964791438341,
        0.970416910375,
        0.987137855413,
        0.991088959683,
        0.6955410120210545,
    ),
    (
        1132,
        1112,
        0.965070801492,
        0.970592997318,
        0.987056259235,
        0.990941852343,
        0.6359139716481256,
    ),
    (
        1220,
        1185,
        0.965689036706,
        0.970949564469,
        0.986793395384,
        0.990601013226,
        -2.0670588312829814,
    ),
    (
        1457,
        1421,
        0.967001168097,
        0.971767824585,
        0.986241835532,
        0.989746126413,
        -1.1825389169989005,
    ),
    (1892, 1873, 0.968666087483, 0.972793123729, 0.985527543672, 0.988694083223, 3.1721080361),
]
CHILD_HEART_NAMES = [
    "London - Harley Street",
    "Leicester",
    "Newcastle",
    "Glasgow",
    "Southampton",
    "Bristol",
    "Dublin",
    "Leeds",
    "London - Brompton",
    "Liverpool",
    "London - Evelina",
    "Birmingham",
    "London - Great Ormond Street",
]


def test_limits_of_child_heart_surgery(published: Published) -> None:
    target = sum(row[1] for row in CHILD_HEART_ROWS) / sum(row[0] for row in CHILD_HEART_ROWS)
    published("survival of all, 1", target, 0.9796644243408336, CHILD_HEART, 1e-9)
    for operations, _, *limits, _ in CHILD_HEART_ROWS:
        for below, theirs in zip((0.001, 0.025, 0.975, 0.999), limits, strict=True):
            ours = binomial_quantile(number=operations, target=target, below=below)
            published(
                f"limit at {100 * below:g} % of {operations}, 1", ours, theirs, CHILD_HEART, 1e-9
            )


def test_hospitals_outside_for_child_heart_surgery(published: Published) -> None:
    operations = [row[0] for row in CHILD_HEART_ROWS]
    survivors = [row[1] for row in CHILD_HEART_ROWS]
    for z, row in zip(
        z_scores(counts=survivors, numbers=operations), CHILD_HEART_ROWS, strict=True
    ):
        published(f"z of {row[1]} in {row[0]}, 1", z, row[-1], CHILD_HEART, 1e-9)
    found = funnel(names=CHILD_HEART_NAMES, counts=survivors, numbers=operations)
    outside = [place.name for place in found.places if place.outside]
    beyond = [place.name for place in found.places if abs(place.outside) == 2]
    published(
        f"outside {100 * INNER:g} %",
        outside,
        ["Glasgow", "London - Great Ormond Street"],
        CHILD_HEART,
    )
    published(f"outside {100 * OUTER:g} %", beyond, ["London - Great Ormond Street"], CHILD_HEART)


# Deaths and operations.
BRISTOL_ROWS = {
    "Bristol": (41, 143, 6.15763043335),
    "Leicester": (25, 187, 0.593138975777),
    "Leeds": (24, 323, -2.509436375),
    "Oxford": (23, 122, 2.34550101152),
    "Guys": (25, 164, 1.29537154913),
    "Liverpool": (42, 405, -0.986704249581),
    "Southampton": (24, 239, -0.914492268417),
    "Great Ormond St": (53, 482, -0.653258799187),
    "Newcastle": (26, 195, 0.590352478814),
    "Harefield": (25, 177, 0.886720723873),
    "Birmingham": (58, 581, -1.46969776087),
    "Brompton": (31, 301, -0.888789119154),
}


def test_over_dispersion_of_infant_mortality(published: Published) -> None:
    deaths = [row[0] for row in BRISTOL_ROWS.values()]
    operations = [row[1] for row in BRISTOL_ROWS.values()]
    for name, z in zip(BRISTOL_ROWS, z_scores(counts=deaths, numbers=operations), strict=True):
        published(f"z of {name}, 1", z, BRISTOL_ROWS[name][2], BRISTOL, 1e-9)
    phi, raw = over_dispersion(counts=deaths, numbers=operations)
    published("phi, 1", raw, 4.8388529588, BRISTOL, 1e-9)
    published("phi, a tenth drawn in, 1", phi, 1.68929049568, BRISTOL, 1e-9)
    found = funnel(names=list(BRISTOL_ROWS), counts=deaths, numbers=operations)
    beyond = [place.name for place in found.places if abs(place.outside) == 2]
    published("mortality, 1", found.target, 0.119614341669, BRISTOL, 1e-9)
    published("outside 99.8 %", beyond, ["Bristol"], BRISTOL)


@pytest.mark.parametrize(
    "expected, low95, high95, low998, high998",
    [
        (15, 0.5596924, 1.649348, 0.386265, 2.082907),
        (20, 0.610826, 1.544419, 0.4479107, 1.902094),
        (30, 0.6746958, 1.427562, 0.5289724, 1.702771),
    ],
)
def test_limits_of_a_count_over_what_was_expected(
    published: Published,
    expected: int,
    low95: float,
    high95: float,
    low998: float,
    high998: float,
) -> None:
    for within, low, high in ((0.95, low95, high95), (0.998, low998, high998)):
        found = poisson_interval(count=expected, confidence=within)
        for end, ours, theirs in (("low", found.low, low), ("high", found.high, high)):
            published(
                f"{end} limit of {100 * within:g} % for {expected}, 1",
                ours / expected,
                theirs,
                POISSON,
                6e-7,
            )


@pytest.mark.parametrize(
    "count, low, high",
    [
        (0, 0, 3.688879454),
        (1, 0.02531780798, 5.571643391),
        (2, 0.2422092785, 7.224687668),
        (3, 0.6186721229, 8.76727307),
        (5, 1.62348639, 11.66833208),
        (10, 4.795388696, 18.39035604),
        (20, 12.21651959, 30.8883779),
        (50, 37.11096374, 65.91876666),
        (100, 81.36399125, 121.6267938),
    ],
)
def test_exact_interval_of_a_count(
    published: Published, count: int, low: float, high: float
) -> None:
    found = poisson_interval(count=count)
    published(f"lower end of {count}, units", found.low, low, GARWOOD, 1e-7)
    published(f"upper end of {count}, units", found.high, high, GARWOOD, 1e-7)
