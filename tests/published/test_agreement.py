"""How two methods agree, against published studies (provenance in brackets)."""

import math
from collections.abc import Callable

import pytest

from brewhygiene.science.agreement.bland_altman import (
    bland_altman,
    limits_of_agreement,
    ratios_of,
    repeatability,
)
from brewhygiene.science.agreement.deming import deming
from brewhygiene.science.agreement.passing_bablok import passing_bablok

Published = Callable[..., None]

PEFR = (
    "Bland, Altman, Lancet i (1986) 307-310, Table I and text (data, mean and SD read; limits "
    "and intervals from memory)"
)
PEFR_COMPUTED = f"{PEFR}, computed with NumPy from the data"
PEFR_REPEATS = "Bland, Altman, Lancet i (1986) 307-310, repeatability (from memory)"
PLASMA = (
    "Bland, Altman, Stat. Methods Med. Res. 8 (1999) 135-160, Table 2, section 3.1 (read; data in "
    "R MethComp plvol)"
)
PRESSURE = (
    "Bland, Altman, Stat. Methods Med. Res. 8 (1999) 135-160, Table 1, sections 2, 2.2 and 5.1 "
    "(read), from its printed mean and SD"
)
PRESSURE_MEANS = (
    "Bland, Altman, Stat. Methods Med. Res. 8 (1999) 135-160, section 5.1 (SD and within-subject "
    "variances read; variance of the differences of means 358.493 from memory)"
)
ARSENATE = (
    "Ripley, Thompson, Analyst 112 (1987) 377-383; data and fit in the help of R deming 1.4-1 "
    "(read)"
)
ARSENATE_TEXTBOOK = f"{ARSENATE}; textbook jackknife 0.1396 as noted beside that fit (computed)"
ARSENATE_PB = (
    "Passing, Bablok, J. Clin. Chem. Clin. Biochem. 21 (1983) 709-720, on the arsenate pairs "
    "(computed with R mcr 1.2.2)"
)
SEN = (
    "Sen, JASA 63 (1968) 1379-1389, numerical example (read in the tests of R deming 1.4-1, where "
    "it is asked of pbreg)"
)
OFFSET = "R deming 1.4-1, tests/pbtest.R (coefficients read; interval computed in R)"

WRIGHT_1 = [
    494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427,
]  # fmt: skip
WRIGHT_2 = [
    490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421,
]  # fmt: skip
MINI_1 = [
    512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451,
]  # fmt: skip
MINI_2 = [
    525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443,
]  # fmt: skip
NADLER = [
    56.9, 63.2, 65.5, 73.6, 74.1, 77.1, 77.3, 77.5, 77.8, 78.9, 79.5, 80.8, 81.2, 81.9, 82.2,
    83.1, 84.4, 84.9, 86.0, 86.3, 86.3, 86.6, 86.6, 86.6, 87.1, 87.5, 87.8, 88.6, 89.3, 89.6,
    90.3, 91.1, 92.1, 93.5, 94.5, 94.6, 95.0, 95.2, 95.3, 95.6, 95.9, 96.4, 97.2, 97.5, 97.9,
    98.2, 98.5, 98.8, 98.9, 99.0, 99.3, 99.3, 99.9, 100.1, 101.0, 101.0, 101.5, 101.5, 101.5,
    101.8, 101.8, 102.8, 102.9, 103.2, 103.8, 104.4, 104.8, 105.1, 105.5, 105.7, 106.1, 106.8,
    107.2, 107.4, 107.5, 107.5, 108.0, 108.2, 108.6, 109.1, 110.1, 111.2, 111.7, 111.7, 112.0,
    113.1, 116.0, 116.7, 118.8, 119.7, 120.7, 122.8, 124.7, 126.4, 127.6, 128.2, 129.6, 130.4,
    133.2,
]  # fmt: skip
HURLEY = [
    52.9, 59.2, 63.0, 66.2, 64.8, 69.0, 67.1, 70.1, 69.2, 73.8, 71.8, 73.3, 73.1, 74.7, 74.1,
    74.1, 76.0, 75.4, 74.6, 79.2, 77.8, 80.8, 77.6, 77.5, 78.6, 78.7, 81.5, 79.3, 78.9, 85.9,
    80.7, 80.6, 82.8, 86.0, 84.3, 87.6, 84.0, 85.9, 84.4, 85.2, 85.2, 89.2, 87.8, 88.0, 88.7,
    91.2, 91.8, 92.5, 88.0, 93.5, 89.0, 89.4, 89.2, 91.3, 90.4, 91.2, 91.4, 93.0, 91.2, 92.0,
    91.8, 96.8, 92.8, 94.0, 93.5, 95.8, 97.1, 97.3, 95.1, 95.8, 95.5, 95.9, 95.4, 97.3, 97.7,
    93.0, 97.6, 96.1, 96.2, 99.5, 99.8, 105.3, 103.6, 100.2, 100.0, 98.8, 110.0, 103.5, 109.4,
    112.1, 111.3, 108.6, 112.4, 113.8, 115.6, 118.1, 116.8, 121.6, 115.8,
]  # fmt: skip
AAS = [
    8.71, 7.01, 3.28, 5.6, 1.55, 1.75, 0.73, 3.66, 0.9, 9.39, 4.39, 3.69, 0.34, 1.94, 2.07,
    1.38, 1.81, 1.27, 0.82, 1.88, 5.66, 0.0, 0.0, 0.4, 0.0, 1.98, 10.21, 4.64, 5.66, 19.25,
]  # fmt: skip
SE_AAS = [
    1.92, 1.56, 0.76, 1.26, 0.39, 0.43, 0.22, 0.84, 0.25, 2.07, 1.0, 0.84, 0.13, 0.47, 0.5,
    0.36, 0.45, 0.33, 0.23, 0.46, 1.27, 0.06, 0.06, 0.15, 0.06, 0.48, 2.24, 1.05, 1.27, 4.18,
]  # fmt: skip
AES = [
    7.35, 7.92, 3.4, 5.44, 2.07, 2.29, 0.66, 3.43, 1.25, 6.58, 3.31, 2.72, 2.32, 1.5, 3.5,
    1.17, 2.31, 1.88, 0.44, 1.37, 7.04, 0.0, 0.49, 1.29, 0.37, 2.16, 12.53, 3.9, 4.66, 15.86,
]  # fmt: skip
SE_AES = [
    2.07, 2.23, 0.96, 1.53, 0.59, 0.65, 0.19, 0.97, 0.36, 1.85, 0.93, 0.77, 0.66, 0.43, 0.99,
    0.33, 0.66, 0.54, 0.13, 0.4, 1.98, 0.01, 0.15, 0.37, 0.12, 0.62, 3.51, 1.1, 1.31, 4.45,
]  # fmt: skip


def test_peak_flow_limits_of_agreement_are_as_published(published: Published) -> None:
    found = bland_altman(first=WRIGHT_1, second=MINI_1, factor=2, limit_error="1986")
    published("peak flow, mean difference, L/min", found.bias, -2.1, PEFR, 0.12)
    published("peak flow, SD of differences, L/min", found.sd, 38.8, PEFR, 0.12)
    published("peak flow, mean difference, L/min", found.bias, -2.117647059, PEFR_COMPUTED, 1e-8)
    published("peak flow, SD of differences, L/min", found.sd, 38.76512987, PEFR_COMPUTED, 1e-7)
    published("peak flow, SE of mean difference, L/min", found.se_bias, 9.4, PEFR, 0.12)
    published("peak flow, SE of a limit, L/min", found.se_limit, 16.3, PEFR, 0.12)
    for name, ours, theirs, tolerance in (
        ("limits at 2 SD", found.limits, (-79.7, 75.5), 0.1),
        ("interval of mean difference", found.ci_bias, (-22.0, 17.8), 0.12),
        ("interval of lower limit", found.ci_lower, (-114.3, -45.1), 0.3),
        ("interval of upper limit", found.ci_upper, (40.9, 110.1), 0.3),
    ):
        for our, their in zip(ours, theirs, strict=True):
            published(f"peak flow, {name}, L/min", our, their, PEFR, tolerance)
    today = bland_altman(first=WRIGHT_1, second=MINI_1)
    for our, their in zip(today.limits, (-78.09730161, 73.86200749), strict=True):
        published("peak flow, limits at 1.96 SD, L/min", our, their, PEFR_COMPUTED, 1e-7)


def test_peak_flow_repeatability_is_as_published(published: Published) -> None:
    for name, first, second, coefficient in (
        ("Wright", WRIGHT_1, WRIGHT_2, 43.2),
        ("mini Wright", MINI_1, MINI_2, 56.4),
    ):
        found = repeatability(readings=list(zip(first, second, strict=True)))
        # The paper takes 2 SD of the differences; ours is 1.96 √2 within-subject SD.
        published(
            f"{name}, coefficient of repeatability at 2 SD, L/min",
            found.coefficient * 2 / 1.96,
            coefficient,
            PEFR_REPEATS,
            0.3,
        )


def test_plasma_volume_ratios_are_as_published(published: Published) -> None:
    found = bland_altman(
        first=[math.log(value) for value in NADLER], second=[math.log(value) for value in HURLEY]
    )
    ratios = ratios_of(found, base=math.e)
    published("plasma volume, mean difference of ln", found.bias, 0.099, PLASMA, 0.0006)
    published("plasma volume, mean ratio", ratios.ratio, 1.11, PLASMA, 0.0061)
    for name, ours, theirs, tolerance in (
        ("limits of ln", found.limits, (0.056, 0.141), 0.0006),
        ("interval of lower limit of ln", found.ci_lower, (0.049, 0.064), 0.0006),
        ("limits of the ratio", ratios.limits, (1.06, 1.15), 0.006),
    ):
        for our, their in zip(ours, theirs, strict=True):
            published(f"plasma volume, {name}", our, their, PLASMA, tolerance)


def test_blood_pressure_limits_are_as_published(published: Published) -> None:
    found = limits_of_agreement(bias=-16.29, sd=19.61, pairs=85)
    for name, ours, theirs, tolerance in (
        ("limits", found.limits, (-54.7, 22.1), 0.06),
        ("interval of mean difference", found.ci_bias, (-20.5, -12.1), 0.06),
        ("interval of lower limit", found.ci_lower, (-61.9, -47.5), 0.11),
        ("interval of upper limit", found.ci_upper, (14.9, 29.3), 0.11),
    ):
        for our, their in zip(ours, theirs, strict=True):
            published(f"blood pressure, {name}, mmHg", our, their, PRESSURE, tolerance)


def test_arsenate_deming_line_is_as_published(published: Published) -> None:
    found = deming(x=AAS, y=AES)
    published("arsenate, unweighted slope", found.slope, 0.87595714, ARSENATE, 1e-4)
    published("arsenate, unweighted intercept, µg/L", found.intercept, 0.42936645, ARSENATE, 2e-4)


def test_arsenate_passing_bablok_line_is_as_published(published: Published) -> None:
    found = passing_bablok(x=AAS, y=AES)
    published("arsenate, slope", found.slope, 0.8438576349, ARSENATE_PB, 1e-8)
    published("arsenate, intercept, µg/L", found.intercept, 0.4295809414, ARSENATE_PB, 1e-8)
    for our, their in zip(found.ci_slope, (0.75795053, 1.059914408), strict=True):
        published("arsenate, interval of slope", our, their, ARSENATE_PB, 1e-8)
    for our, their in zip(found.ci_intercept, (-0.0382596291, 0.6575795053), strict=True):
        published("arsenate, interval of intercept, µg/L", our, their, ARSENATE_PB, 1e-8)


def test_sen_example_is_as_published(published: Published) -> None:
    found = passing_bablok(
        x=[1, 2, 3, 4, 10, 12, 18], y=[9, 15, 19, 20, 45, 55, 78], confidence=0.93
    )
    published("seven points, slope", found.slope, 4.0, SEN, 1e-9)
    published("seven points, intercept", found.intercept, 6.0, SEN, 1e-9)
    for our, their in zip(found.ci_slope, (3.7142857142857144, 4.375), strict=True):
        published("seven points, interval of slope at 93 %", our, their, SEN, 1e-9)


@pytest.mark.parametrize("order", [1, -1], ids=["as printed", "in reverse"])
def test_line_with_a_slope_below_minus_one_is_as_published(
    published: Published, order: int
) -> None:
    found = passing_bablok(x=[1, 2, 3, 4, 5, 6][::order], y=[2, 1.2, 4.1, 3.5, 6.3, 3][::order])
    published("six points, slopes counted", found.slopes, 15, OFFSET)
    published("six points, K", found.offset, 1, OFFSET)
    published("six points, slope", found.slope, 1.05, OFFSET, 1e-9)
    published("six points, intercept", found.intercept, 0.125, OFFSET, 1e-9)
    for our, their in zip(found.ci_slope, (-0.6, 2.9), strict=True):
        published("six points, interval of slope", our, their, OFFSET, 1e-9)
    for our, their in zip(found.ci_intercept, (-6.35, 5.9), strict=True):
        published("six points, interval of intercept", our, their, OFFSET, 1e-9)
