"""Colonies on dishes to colony-forming units: by mL, by area, with how far they may be off.

Colonies are taken to be Poisson about their mean, as those of a well mixed sample are. What the
intervals leave out: pipetting, clumps, and cells that do not grow on the medium.
"""

import dataclasses
import math
from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Literal

from brewhygiene.science.counting.poisson import (
    CONFIDENCE,
    Interval,
    poisson_interval,
    poisson_upper,
)
from brewhygiene.science.errors import OutOfRange, TooFewReadings, require
from brewhygiene.science.working import WorkingLine, shown

# ISO 7218 for dishes of 90 mm (from memory): beyond 300 colonies run into each other; where no
# dish has 10, the number is an estimate only.
MOST_COUNTABLE = 300
LEAST_COUNTABLE = 10

Kind = Literal["counted", "estimated", "none_found", "too_many"]


@dataclasses.dataclass(frozen=True)
class Dish:
    """One dish or filter: the sample diluted ``dilution`` times, ``volume_ml`` mL of that on it.

    ``colonies`` is ``None`` where there were too many to count.
    """

    dilution: float
    volume_ml: float
    colonies: int | None

    @property
    def amount_ml(self) -> float:
        """How many mL of the sample itself are on it."""
        return self.volume_ml / self.dilution


@dataclasses.dataclass(frozen=True)
class ColonyCount:
    """What dishes say of a sample, per mL of it.

    ``kind``: *counted* (at least one dish in the counting range), *estimated* (outside it),
    *none_found* (``high_per_ml`` is the one-sided upper bound), *too_many* (``low_per_ml`` is a
    lower bound; ``high_per_ml`` is ``None`` unless a weaker dilution had nothing on it).
    ``used`` says of each dish, as it was given, whether it counts; ``normal_interval`` is the
    interval as ISO 7218 works it out.
    """

    kind: Kind
    colonies: int
    amount_ml: float
    per_ml: float | None
    low_per_ml: float
    high_per_ml: float | None
    normal_interval: Interval | None
    used: tuple[bool, ...]
    says: str
    working: tuple[WorkingLine, ...]


def check_dishes(*, dishes: Sequence[Dish]) -> None:
    """Raise unless there are ``dishes``, each with a dilution and mL that can be.

    :class:`TooFewReadings` without one, :class:`OutOfRange` outside.
    """
    if not dishes:
        raise TooFewReadings("Enter at least one dish with its volume.")
    for dish in dishes:
        require("dilution", dish.dilution, unit="-fold", minimum=1, maximum=1e9)
        require("volume on the dish", dish.volume_ml, unit="mL", minimum=0.001, maximum=10_000)
        if dish.colonies is not None:
            require("number of colonies", dish.colonies, minimum=0, maximum=1e6)


def _retained(dishes: Sequence[Dish], most: int) -> tuple[bool, ...]:
    """The two successive dilutions that ISO 7218 takes: the first countable one and the next.

    A dish too full at the first of them is left out, and so is a dilution beyond the second.
    """
    amounts = sorted({dish.amount_ml for dish in dishes}, reverse=True)
    countable = {
        amount: [
            dish.colonies is not None and dish.colonies <= most
            for dish in dishes
            if dish.amount_ml == amount
        ]
        for amount in amounts
    }
    # A dilution counts from where all of its dishes can be counted; failing that, where one can.
    first = next((a for a in amounts if all(countable[a])), None)
    if first is None:
        first = next((a for a in amounts if any(countable[a])), None)
    if first is None:
        return (False,) * len(dishes)
    place = amounts.index(first)
    kept = _of_like_dilution(dishes, amounts[place:])
    return tuple(
        dish.amount_ml in kept and dish.colonies is not None and dish.colonies <= most
        for dish in dishes
    )


def _of_like_dilution(dishes: Sequence[Dish], amounts: Sequence[float]) -> set[float]:
    """The amounts of the first two dilutions, whatever the volumes on their dishes."""
    dilutions = sorted({dish.dilution for dish in dishes if dish.amount_ml in amounts})[:2]
    return {
        dish.amount_ml
        for dish in dishes
        if dish.amount_ml in amounts and dish.dilution in dilutions
    }


def colony_count(
    *,
    dishes: Sequence[Dish],
    most_countable: int = MOST_COUNTABLE,
    least_countable: int = LEAST_COUNTABLE,
    confidence: float = CONFIDENCE,
) -> ColonyCount:
    """CFU per mL from ``dishes`` by the weighted mean of ISO 7218, with its exact interval.

    N = ΣC / ΣV, C the colonies and V the mL of sample on each dish of the two successive
    dilutions that can be counted; with equal volumes that is ΣC / (V (n₁ + 0.1 n₂) d) [1]_.
    The interval is exact Poisson (``confidence``, a share), the standard's normal one beside it.
    Dishes with more than ``most_countable`` colonies are left out; where none reaches
    ``least_countable`` the result is an estimate. Nothing found gives the one-sided upper bound
    -ln(1 - confidence) / ΣV, and dishes that are all too full a lower bound. Raises
    :class:`TooFewReadings` without a dish and :class:`OutOfRange` for amounts that cannot be.

    >>> found = colony_count(dishes=[Dish(100, 1, 168), Dish(100, 1, 215),
    ...                              Dish(1000, 1, 14), Dish(1000, 1, 25)])
    >>> round(found.per_ml), round(found.low_per_ml), round(found.high_per_ml)
    (19182, 17395, 21102)

    References
    ----------
    .. [1] ISO 7218:2007 with Amendment 1:2013, enumeration (from memory).
    """
    require("most that can be counted", most_countable, minimum=1, maximum=100_000)
    require("least that is a count", least_countable, minimum=1, maximum=most_countable)
    check_dishes(dishes=dishes)
    if all(dish.colonies == 0 for dish in dishes):
        return _none_found(dishes, confidence)
    used = _retained(dishes, most_countable)
    full = [d for d in dishes if d.colonies is None or d.colonies > most_countable]
    taken = [dish for dish, takes in zip(dishes, used, strict=True) if takes]
    overfull = not taken
    if overfull:
        # The fullest that was counted all the same is better than nothing, and said to be rough.
        weakest = min(dish.amount_ml for dish in dishes)
        taken = [d for d in dishes if d.colonies is not None and d.amount_ml == weakest]
        if not taken:
            return _too_many(dishes, most_countable, confidence)
        used = tuple(dish in taken for dish in dishes)
    colonies = sum(dish.colonies or 0 for dish in taken)
    amount = math.fsum(dish.amount_ml for dish in taken)
    if colonies == 0:
        return _between(taken, full, most_countable, confidence)
    interval = poisson_interval(count=colonies, confidence=confidence).times(1 / amount)
    in_range = not overfull and any((d.colonies or 0) >= least_countable for d in taken)
    return ColonyCount(
        kind="counted" if in_range else "estimated",
        colonies=colonies,
        amount_ml=amount,
        per_ml=colonies / amount,
        low_per_ml=interval.low,
        high_per_ml=interval.high,
        normal_interval=_normal_interval(colonies, amount) if in_range else None,
        used=used,
        says=_counted_words(taken, full, least_countable, most_countable),
        working=(
            WorkingLine(
                "sample on the countable dishes", "ΣV", _sum_of_amounts(taken), amount, "mL"
            ),
            WorkingLine(
                "weighted mean",
                "ΣC ÷ ΣV",
                f"{colonies} ÷ {shown(amount)}",
                colonies / amount,
                "CFU/mL",
            ),
        ),
    )


def _normal_interval(colonies: int, amount_ml: float) -> Interval | None:
    """The standard's own, at 95 %: (C + 1.92 ± 1.96 √C) / V (from memory)."""
    middle, half = colonies + 1.92, 1.96 * math.sqrt(colonies)
    if middle <= half:
        return None
    return Interval((middle - half) / amount_ml, (middle + half) / amount_ml)


def _sum_of_amounts(dishes: Sequence[Dish]) -> str:
    return " + ".join(shown(dish.amount_ml) for dish in dishes)


def _counted_words(taken: Sequence[Dish], full: Sequence[Dish], least: int, most: int) -> str:
    said = []
    if taken[0] in full:
        said.append(
            f"An estimate, because every dish has more than {most} colonies. For a count, plate "
            "again at a higher dilution."
        )
    elif all((dish.colonies or 0) < least for dish in taken):
        said.append(f"An estimate, because no countable dish has {least} colonies or more.")
    left = len([dish for dish in full if dish not in taken])
    if left:
        said.append(f"{left} dish{'es' if left > 1 else ''} with too many to count excluded.")
    if _disagree(taken):
        said.append("The dishes differ more than expected. Check the dilutions and the labels.")
    return " ".join(said)


def _disagree(dishes: Sequence[Dish]) -> bool:
    """Whether counts scatter as they would once in a thousand times (χ² of dispersion)."""
    if len(dishes) < 2:
        return False
    from scipy.special import gammaincc

    counts = [dish.colonies or 0 for dish in dishes]
    per_ml = sum(counts) / math.fsum(dish.amount_ml for dish in dishes)
    expected = [per_ml * dish.amount_ml for dish in dishes]
    scatter = math.fsum((c - e) ** 2 / e for c, e in zip(counts, expected, strict=True))
    return bool(gammaincc((len(dishes) - 1) / 2, scatter / 2) < 0.001)


def _none_found(dishes: Sequence[Dish], confidence: float) -> ColonyCount:
    amount = math.fsum(dish.amount_ml for dish in dishes)
    bound = poisson_upper(count=0, confidence=confidence) / amount
    return ColonyCount(
        kind="none_found",
        colonies=0,
        amount_ml=amount,
        per_ml=None,
        low_per_ml=0.0,
        high_per_ml=bound,
        normal_interval=None,
        used=(True,) * len(dishes),
        says="None were found. The sample may still contain up to the upper bound.",
        working=(
            WorkingLine("sample on the dishes", "ΣV", _sum_of_amounts(dishes), amount, "mL"),
            WorkingLine(
                "upper bound",
                "−ln(1 − confidence) ÷ ΣV",
                f"{shown(poisson_upper(count=0, confidence=confidence))} ÷ {shown(amount)}",
                bound,
                "CFU/mL",
            ),
        ),
    )


def _too_many(
    dishes: Sequence[Dish], most: int, confidence: float, *, high_per_ml: float | None = None
) -> ColonyCount:
    """What is known of dishes that are all too full: more than the most diluted could show."""
    weakest = min(dishes, key=lambda dish: dish.amount_ml)
    least = poisson_interval(count=most, confidence=confidence).low
    return ColonyCount(
        kind="too_many",
        colonies=0,
        amount_ml=weakest.amount_ml,
        per_ml=None,
        low_per_ml=least / weakest.amount_ml,
        high_per_ml=high_per_ml,
        normal_interval=None,
        used=tuple(dish is weakest for dish in dishes),
        says="Too many to count. Plate again at a higher dilution."
        if high_per_ml is None
        else "Too many to count at one dilution, none at the next. Plate a dilution in between.",
        working=(
            WorkingLine(
                "lower bound",
                f"lower limit of {most} ÷ V",
                f"{shown(least)} ÷ {shown(weakest.amount_ml)}",
                least / weakest.amount_ml,
                "CFU/mL",
            ),
        ),
    )


def _between(
    empty: Sequence[Dish], full: Sequence[Dish], most: int, confidence: float
) -> ColonyCount:
    """Too many on the stronger dilution and nothing on the weaker: only bounds are known."""
    amount = math.fsum(dish.amount_ml for dish in empty)
    high = poisson_upper(count=0, confidence=confidence) / amount
    found = _too_many(full, most, confidence, high_per_ml=high)
    if found.low_per_ml > high:
        raise OutOfRange(
            "Some dishes are too full to count and others are empty, which does not fit. Check "
            "the dilutions and the labels, or plate again."
        )
    return found


def swab_factor(*, suspension_ml: float, area_cm2: float) -> float:
    """By what CFU per mL of a swab's liquid are multiplied to be CFU per 100 cm².

    ``suspension_ml`` mL that the swab was taken up in (0.1–10 000), ``area_cm2`` cm² swabbed
    (1–10 000). It takes for granted that all that was on the surface came off, which it never
    does. Raises :class:`OutOfRange` outside.

    >>> swab_factor(suspension_ml=10, area_cm2=25)
    40.0
    """
    require("liquid of the swab", suspension_ml, unit="mL", minimum=0.1, maximum=10_000)
    require("area", area_cm2, unit="cm²", minimum=1, maximum=10_000)
    return suspension_ml * 100 / area_cm2


def two_figures(*, value: float) -> float:
    """``value``, in any unit, rounded to two figures as counts of colonies are reported.

    A third figure of exactly 5 goes to the even second one [1]_. Raises :class:`OutOfRange`
    for a value that is not finite or below 0.

    >>> two_figures(value=19182), two_figures(value=14500), two_figures(value=15500)
    (19000.0, 14000.0, 16000.0)

    References
    ----------
    .. [1] Rules of a bacteriological manual on aerobic plate counts (from memory).
    """
    require("value", value, minimum=0)
    if value == 0:
        return 0.0
    exact = Decimal(repr(float(value)))
    step = Decimal(1).scaleb(exact.adjusted() - 1)
    return float((exact / step).quantize(Decimal(1), rounding=ROUND_HALF_EVEN) * step)
