"""Counts of colonies and most probable numbers against published examples.

Provenance of a number: read (seen in the source named or a copy of it), memory (recalled),
computed (worked out with the program named).
"""

from collections.abc import Callable

import pytest
from statsmodels.stats.rates import confint_poisson

from brewhygiene.science.counting.colonies import Dish, colony_count, two_figures
from brewhygiene.science.counting.mpn import most_probable_number
from brewhygiene.science.counting.poisson import poisson_interval, poisson_upper
from brewhygiene.science.counting.pooled import pooled_count

Published = Callable[..., None]

ISO = "ISO 7218:2007 + Amd 1:2013, general case: 168, 215 at 1e-2 and 14, 25 at 1e-3 (memory)"
ISO_INTERVAL = "ISO 7218:2007, confidence limits of the weighted mean (formula from memory)"
ISO_EXACT = "ISO 7218 example with exact Poisson limits of the sum (computed with R, poisson.test)"
HAAS = "Haas, Rose, Gerba, Quantitative Microbial Risk Assessment, 2nd ed. 2014, example 6.1A, p. 163 (read in tests of R MPN 0.4.0)"  # noqa: E501
HELLER = "Haas & Heller, Appl. Environ. Microbiol. 54:2069, 1988, plates too numerous to count (read in tests of R MPN 0.4.0)"  # noqa: E501
GARWOOD = (
    "Garwood, Biometrika 28:437-442, 1936 (table from memory; digits computed with R poisson.test)"
)
TABLE = "Standard Methods 9221 / BAM appendix 2: 5 tubes of 10, 1 and 0.1 mL (memory; 5-1-0 read)"
BLODGETT = (
    "Blodgett, Commun. Stat. Theory Methods 31:2209-2223, 2002 (read in tests of R MPN 0.4.0)"
)
JARVIS = "Jarvis, Wilrich, Wilrich, J. Appl. Microbiol. 109:1660-1667, 2010, tables 1, 2 (read in tests of R MPN 0.4.0)"  # noqa: E501
RIDOUT = "Ridout, Biometrics 50:289-296, 1994, table 1 (read in tests of R MPN 0.4.0)"


def test_weighted_mean_of_two_dilutions(published: Published) -> None:
    dishes = [Dish(100, 1, 168), Dish(100, 1, 215), Dish(1000, 1, 14), Dish(1000, 1, 25)]
    found = colony_count(dishes=dishes)
    published("weighted mean, CFU/mL", found.per_ml, 19181.818, ISO, 0.06)
    published("reported, CFU/mL", two_figures(value=found.per_ml), 19000, ISO)
    for end, ours, theirs in zip(
        ("low", "high"),
        (found.normal_interval.low, found.normal_interval.high),
        (17438.93, 21099.25),
        strict=True,
    ):
        published(f"normal limit, {end}, CFU/mL", ours, theirs, ISO_INTERVAL, 0.6)
    published("exact limit, low, CFU/mL", found.low_per_ml, 17395.11, ISO_EXACT, 1)
    published("exact limit, high, CFU/mL", found.high_per_ml, 21102.23, ISO_EXACT, 1)


def test_unequal_volumes_pooled(published: Published) -> None:
    counts = (1, 2, 1, 0, 0, 1, 1, 3, 6, 8, 4)
    volumes = (1, 1, 1, 1, 1, 2.5, 2.5, 2.5, 2.5, 5, 5)
    dishes = [Dish(1, v, c) for v, c in zip(volumes, counts, strict=True)]
    found = pooled_count(dishes=dishes)
    published("pooled, CFU/mL", found.per_ml, 1.08, HAAS, 2e-4)
    published("exact limit, low, CFU/mL", found.interval.low, 0.7117268, HAAS, 2e-3)
    published("exact limit, high, CFU/mL", found.interval.high, 1.5713433, HAAS, 2e-3)


def test_dishes_too_full_to_count_pooled(published: Published) -> None:
    """The paper took more than 80 for too many; it prints 13.28, the package finds 13.2013."""
    counted = [Dish(1, v, c) for v, c in ((1, 10), (1, 12), (1, 23), (5, 48), (5, 63))]
    full = [Dish(1, v, None) for v in (5, 10, 10)]
    found = pooled_count(dishes=counted + full, too_many_from=80)
    published("pooled with overfull dishes, CFU/mL", found.per_ml, 13.28, HELLER, 0.05)


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
def test_poisson_limits(published: Published, count: int, low: float, high: float) -> None:
    ours = poisson_interval(count=count)
    published(f"lower limit of {count} counted", ours.low, low, GARWOOD, 1e-7)
    published(f"upper limit of {count} counted", ours.high, high, GARWOOD, 1e-7)


def test_poisson_upper_bound_of_nothing(published: Published) -> None:
    published("one-sided upper limit of 0", poisson_upper(count=0), 2.995732274, GARWOOD, 1e-7)


@pytest.mark.parametrize("count", [1, 7, 42, 300])
def test_poisson_limits_by_another_road(published: Published, count: int) -> None:
    ours = poisson_interval(count=count, confidence=0.9)
    low, high = confint_poisson(count, 1, method="exact-c", alpha=0.1)
    source = "statsmodels confint_poisson, exact-c (computed here)"
    published(f"lower 90 % limit of {count}", ours.low, float(low), source, 1e-7)
    published(f"upper 90 % limit of {count}", ours.high, float(high), source, 1e-7)


@pytest.mark.parametrize(
    "grew, per_100_ml",
    [
        ((5, 0, 0), 23),
        ((5, 0, 1), 31),
        ((5, 1, 0), 33),
        ((5, 1, 1), 46),
        ((5, 2, 0), 49),
        ((5, 2, 1), 70),
        ((5, 3, 0), 79),
        ((5, 3, 1), 110),
        ((5, 4, 0), 130),
        ((5, 5, 0), 240),
        ((5, 5, 1), 350),
        ((5, 5, 2), 540),
        ((5, 5, 3), 920),
        ((5, 5, 4), 1600),
    ],
)
def test_most_probable_number_of_the_table(
    published: Published, grew: tuple[int, ...], per_100_ml: int
) -> None:
    found = most_probable_number(positive=grew, tubes=(5, 5, 5), amounts_ml=(10, 1, 0.1))
    ours = two_figures(value=100 * found.per_ml)
    published(f"MPN of {grew}, per 100 mL", ours, per_100_ml, TABLE)


@pytest.mark.parametrize(
    "grew, of, number, rarity",
    [
        ((5, 3, 0), (10, 10, 10), 9.950764229, 0.0924576),
        ((4, 2, 2), (5, 5, 4), 31.918, 0.00102),
        ((3, 0, 2), (7, 5, 7), 8.549, 0.00115),
        ((2, 3, 4), (9, 3, 4), 11.274, 6.34e-13),
    ],
)
def test_rarity_of_unequal_tubes(
    published: Published,
    grew: tuple[int, ...],
    of: tuple[int, ...],
    number: float,
    rarity: float,
) -> None:
    found = most_probable_number(positive=grew, tubes=of, amounts_ml=(0.1, 0.01, 0.001))
    published(f"MPN of {grew}, per mL", found.per_ml, number, BLODGETT, 6e-4)
    published(f"rarity of {grew}", found.rarity, rarity, BLODGETT, 6e-6)


@pytest.mark.parametrize(
    "grew, of, amounts, number, low, high, rarity",
    [
        ((2, 2, 0), (3, 3, 3), (1, 0.1, 0.01), 2.1, 0.71, 6.2, 0.069),
        ((3, 1, 1), (3, 3, 3), (1, 0.1, 0.01), 7.5, 1.9, 30, 0.209),
        ((50, 34, 7), (50, 49, 49), (2, 0.2, 0.02), 6.2, 4.5, 8.6, 0.746),
    ],
)
def test_interval_of_the_logarithm(
    published: Published,
    grew: tuple[int, ...],
    of: tuple[int, ...],
    amounts: tuple[float, ...],
    number: float,
    low: float,
    high: float,
    rarity: float,
) -> None:
    found = most_probable_number(positive=grew, tubes=of, amounts_ml=amounts)
    published(f"MPN of {grew}, per g", found.per_ml, number, JARVIS, 0.06)
    published(f"lower limit of {grew}", found.log_interval.low, low, JARVIS, 0.06)
    published(f"upper limit of {grew}", found.log_interval.high, high, JARVIS, 0.6)
    published(f"rarity of {grew}", found.rarity, rarity, JARVIS, 6e-4)


@pytest.mark.parametrize(
    "grew, number, low, high",
    [
        ((0, 0, 0), 0, 0, 9.0),
        ((0, 1, 0), 3.1, 0.2, 13.4),
        ((1, 0, 0), 3.6, 0.2, 16.0),
        ((1, 1, 0), 7.4, 1.2, 23.3),
        ((2, 0, 0), 9.2, 1.5, 30.6),
        ((2, 0, 1), 14.3, 3.4, 40.5),
        ((2, 1, 0), 14.7, 3.5, 41.8),
        ((2, 2, 0), 21.1, 6.2, 54.3),
        ((3, 0, 0), 23.1, 4.9, 90.8),
        ((3, 0, 1), 38.5, 9.3, 139.1),
        ((3, 1, 0), 42.7, 9.8, 164.7),
        ((3, 1, 1), 74.9, 17.5, 235.4),
        ((3, 2, 0), 93.3, 19.8, 311.0),
        ((3, 2, 1), 149.4, 36.8, 425.7),
        ((3, 2, 2), 214.7, 62.9, 554.8),
        ((3, 3, 0), 239.8, 51.0, 975.0),
        ((3, 3, 1), 462.2, 102.5, 1848.5),
        ((3, 3, 2), 1099.0, 218.8, 3784.9),
    ],
)
def test_interval_of_the_likelihood_ratio(
    published: Published, grew: tuple[int, ...], number: float, low: float, high: float
) -> None:
    found = most_probable_number(positive=grew, tubes=(3, 3, 3), amounts_ml=(0.1, 0.01, 0.001))
    published(f"MPN of {grew}, per g", found.per_ml, number, RIDOUT, 0.06)
    published(f"lower limit of {grew}, per g", found.low_per_ml, low, RIDOUT, 0.08)
    published(f"upper limit of {grew}, per g", found.high_per_ml, high, RIDOUT, 0.6)
