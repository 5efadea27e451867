"""Most probable number: how many cells per mL, from tubes with growth or did not."""

import dataclasses
import math
from collections.abc import Sequence
from typing import Literal

from brewhygiene.science.counting.poisson import CONFIDENCE, Interval
from brewhygiene.science.errors import OutOfRange, TooFewReadings, require
from brewhygiene.science.working import WorkingLine, shown

# Rarity below these is improbable, and below the second hardly possible (ISO 7218's categories,
# from memory).
IMPROBABLE = 0.05
HARDLY_POSSIBLE = 0.01


@dataclasses.dataclass(frozen=True)
class MostProbableNumber:
    """Cells per mL. ``per_ml`` is 0 where no tube grew and ``None`` where all did.

    ``low_per_ml`` and ``high_per_ml`` are the likelihood ratio's interval; where no or every
    tube grew, the exact one-sided bound, and ``high_per_ml`` is ``None`` where all grew.
    ``log_interval`` is the normal one of its logarithm, ``None`` in those two cases.
    ``rarity`` is how likely this outcome is beside the likeliest at the same number, from 0 to 1.
    """

    per_ml: float | None
    low_per_ml: float
    high_per_ml: float | None
    log_interval: Interval | None
    rarity: float
    category: Literal[1, 2, 3]
    says: str
    working: tuple[WorkingLine, ...]


def _checked(
    positive: Sequence[int], tubes: Sequence[int], amounts_ml: Sequence[float]
) -> list[tuple[int, int, float]]:
    if not amounts_ml or not len(positive) == len(tubes) == len(amounts_ml):
        raise TooFewReadings(
            "For each dilution, enter tubes with growth, tubes in all, and mL per tube."
        )
    for grew, of, amount in zip(positive, tubes, amounts_ml, strict=True):
        require("number of tubes", of, minimum=1, maximum=1000)
        require("sample per tube", amount, unit="mL", minimum=1e-12, maximum=10_000)
        if not 0 <= grew <= of:
            raise OutOfRange(
                f"{grew} tubes with growth are more than the {of} tubes in all.",
                quantity="tubes with growth",
                value=grew,
                minimum=0,
                maximum=of,
            )
    return list(zip(positive, tubes, amounts_ml, strict=True))


def _log_likelihood(rows: Sequence[tuple[int, int, float]], density: float) -> float:
    """Without the binomial coefficients."""
    return math.fsum(
        (grew * math.log(-math.expm1(-density * amount)) if grew else 0.0)
        - (of - grew) * density * amount
        for grew, of, amount in rows
    )


def _score(rows: Sequence[tuple[int, int, float]], density: float) -> float:
    """Σ g a / (1 - exp(-λ a)) - Σ n a: 0 at the most probable number."""
    return math.fsum(
        (grew * amount / -math.expm1(-density * amount) if grew else 0.0) - of * amount
        for grew, of, amount in rows
    )


def _rarity(rows: Sequence[tuple[int, int, float]], density: float) -> float:
    """The outcome's likelihood over that of the likeliest outcome at the same density."""
    ratio = 1.0
    for grew, of, amount in rows:
        share = -math.expm1(-density * amount)
        mode = min(of, math.floor((of + 1) * share))
        ratio *= math.exp(_log_binomial(grew, of, share) - _log_binomial(mode, of, share))
    return min(1.0, ratio)


def _log_binomial(grew: int, of: int, share: float) -> float:
    coefficient = math.lgamma(of + 1) - math.lgamma(grew + 1) - math.lgamma(of - grew + 1)
    of_grown = grew * math.log(share) if grew else 0.0
    of_rest = (of - grew) * math.log1p(-share) if of > grew and share < 1 else 0.0
    return coefficient + of_grown + of_rest


def most_probable_number(
    *,
    positive: Sequence[int],
    tubes: Sequence[int],
    amounts_ml: Sequence[float],
    confidence: float = CONFIDENCE,
) -> MostProbableNumber:
    """Cells per mL that make the tubes' outcome most likely, and how far that may be off.

    Of each dilution: ``tubes`` inoculated, ``positive`` of them grown, ``amounts_ml`` mL of the
    sample itself in each. The number is the root of the likelihood's slope [1]_; the interval at
    ``confidence`` (a share) is the likelihood ratio's [2]_; the rarity says whether the outcome
    is one that such a sample gives [3]_. Where no tube grew, or every one, only an exact
    one-sided bound is known. Raises :class:`TooFewReadings` where a row lacks a side and
    :class:`OutOfRange` for what cannot be.

    >>> found = most_probable_number(positive=(5, 1, 0), tubes=(5, 5, 5), amounts_ml=(10, 1, 0.1))
    >>> round(100 * found.per_ml), found.category
    (33, 1)

    References
    ----------
    .. [1] Bacteriological manuals' appendices on the most probable number (from memory).
    .. [2] M. S. Ridout, Biometrics 50 (1994) 289-296 (figures read in an R package's tests).
    .. [3] B. Jarvis, C. Wilrich, P.-T. Wilrich, J. Appl. Microbiol. 109 (2010) 1660-1667 (as
           above).
    """
    require("confidence", confidence, minimum=0.5, maximum=0.9999)
    rows = _checked(positive, tubes, amounts_ml)
    total = math.fsum(of * amount for _, of, amount in rows)
    if sum(positive) == 0:
        return _none_grew(total, confidence)
    if all(grew == of for grew, of, _ in rows):
        return _all_grew(rows, confidence)
    from scipy.optimize import brentq  # other pages need not wait for it
    from scipy.stats import chi2

    least, most = min(amounts_ml), max(amounts_ml)
    # The slope is positive near 0, where one tube that grew weighs without end, and negative far
    # out, where what did not grow does.
    low, high = 1e-6 / most, 1e3 / least
    number = float(brentq(lambda d: _score(rows, d), low, high, xtol=1e-12 / most, rtol=1e-12))
    drop = float(chi2.ppf(confidence, 1)) / 2
    top = _log_likelihood(rows, number)

    def below(log_density: float) -> float:
        return _log_likelihood(rows, math.exp(log_density)) - top + drop

    middle = math.log(number)
    # The information as observed, as the paper has it, not as expected.
    information = math.fsum(
        grew * amount**2 * math.exp(-number * amount) / math.expm1(-number * amount) ** 2
        for grew, _, amount in rows
    )
    spread = math.sqrt(2 * drop) / (number * math.sqrt(information))
    rarity = _rarity(rows, number)
    category: Literal[1, 2, 3] = (
        1 if rarity >= IMPROBABLE else 2 if rarity >= HARDLY_POSSIBLE else 3
    )
    return MostProbableNumber(
        per_ml=number,
        low_per_ml=math.exp(float(brentq(below, middle - 30, middle))),
        high_per_ml=math.exp(float(brentq(below, middle, middle + 30))),
        log_interval=Interval(number * math.exp(-spread), number * math.exp(spread)),
        rarity=rarity,
        category=category,
        says=_RARITY_WORDS[category],
        working=(
            WorkingLine("sample in all tubes", "Σ n a", shown(total), total, "mL"),
            WorkingLine(
                "most probable number",
                "Σ g a ÷ (1 − exp(−N a)) = Σ n a, solved for N",
                f"{shown(_score(rows, number) + total)} = {shown(total)}",
                number,
                "per mL",
            ),
            WorkingLine(
                "rarity", "L(this) ÷ L(likeliest)", shown(rarity, significant=3), rarity
            ),
        ),
    )  # fmt: skip


_RARITY_WORDS = {
    1: "",
    2: "This result is improbable. Check the dilutions before you use the number.",
    3: "This result is almost impossible. Dilutions or tubes are swapped, or something inhibits "
    "growth in the stronger ones. Do not use the number.",
}


def _none_grew(total_ml: float, confidence: float) -> MostProbableNumber:
    bound = -math.log1p(-confidence) / total_ml
    return MostProbableNumber(
        per_ml=0.0,
        low_per_ml=0.0,
        high_per_ml=bound,
        log_interval=None,
        rarity=1.0,
        category=1,
        says="No tube shows growth, so only an upper bound is known.",
        working=(
            WorkingLine(
                "upper bound",
                "−ln(1 − confidence) ÷ Σ n a",
                f"{shown(-math.log1p(-confidence))} ÷ {shown(total_ml)}",
                bound,
                "per mL",
            ),
        ),
    )


def _all_grew(rows: Sequence[tuple[int, int, float]], confidence: float) -> MostProbableNumber:
    """The density at which all tubes grow as rarely as the confidence leaves out."""
    from scipy.optimize import brentq

    def short(log_density: float) -> float:
        return _log_likelihood(rows, math.exp(log_density)) - math.log1p(-confidence)

    most = max(amount for _, _, amount in rows)
    least = min(amount for _, _, amount in rows)
    bound = math.exp(float(brentq(short, math.log(1e-9 / most), math.log(1e3 / least))))
    return MostProbableNumber(
        per_ml=None,
        low_per_ml=bound,
        high_per_ml=None,
        log_interval=None,
        rarity=1.0,
        category=1,
        says="Every tube shows growth, so only a lower bound is known. For a number, dilute "
        "further.",
        working=(
            WorkingLine(
                "lower bound",
                "Σ n ln(1 − exp(−N a)) = ln(1 − confidence), solved for N",
                shown(math.log1p(-confidence)),
                bound,
                "per mL",
            ),
        ),
    )
