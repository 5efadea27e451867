"""A limit of one scale, carried over to another by pairs of readings; or why it cannot be.

The line is Deming's on log10(RLU + 1) with equal errors on both sides, its uncertainty the
jackknife's; Passing and Bablok's line of the same pairs has to say about the same. The numbers
that decide when to refuse are choices of this program (no source), except where one is named.
"""

import dataclasses
import math
from collections.abc import Sequence

from brewhygiene.science.agreement.deming import DemingFit, deming
from brewhygiene.science.agreement.paired import log_of_rlu, paired, rlu_of_log
from brewhygiene.science.agreement.passing_bablok import (
    MOST_PAIRS,
    PassingBablokFit,
    passing_bablok,
)
from brewhygiene.science.errors import OutOfRange, require
from brewhygiene.science.working import shown

LEAST_PAIRS = 20
GOOD_PAIRS = 40  # CLSI EP09 for comparisons of methods (from memory)
LEAST_ABOVE_ZERO = 10
LEAST_BEYOND = 3  # pairs at or below the alert level, and at or above the action limit
LINEARITY_P = 0.05  # the paper's choice
FLOORS_RLU = (0, 3, 10)  # low down, scales that differ by a factor bend on log10(RLU + 1)
SLOPE_LOW, SLOPE_HIGH = 1 / 3, 3.0
WIDEST_RATIO = 2.0  # from the lower to the upper end of a bridged limit's interval
OUTLIER_SDS = 8.0
LEAST_SD = 0.05  # of the logarithm: a spread below 12 % is none that a swab can show
MOST_PULL = 1.25  # what one pair may change the bridged action limit by
MOST_APART = 1.3  # what the two methods' limits may differ by


class NoBridge(OutOfRange):
    """These pairs carry no limit over; the message says why and what would allow it.

    ``code`` is stable: ``too_few``, ``all_zero``, ``all_equal``, ``mostly_zero``, ``outlier``,
    ``not_together``, ``slope``, ``not_linear``, ``range``, ``one_pair_decides``, ``too_wide``,
    ``methods_differ``. ``more`` is how many more pairs are wanted at least, where that is known;
    ``pair`` is the place of the pair that it is about, counted from 0.
    """

    def __init__(
        self, message: str, *, code: str, more: int | None = None, pair: int | None = None
    ) -> None:
        super().__init__(message)
        self.code = code
        self.more = more
        self.pair = pair


@dataclasses.dataclass(frozen=True)
class BridgeFit:
    """How log10(RLU + 1) of the new scale stands to that of the reference scale.

    ``line`` is Deming's, ``check`` Passing and Bablok's, of the ``pairs`` that were used: all, or
    where the whole bends, those whose geometric mean is ``floor_rlu`` RLU or more. ``scatter`` is
    the SD of the new scale's logarithms about the line: how a single swab strays. ``places`` are
    those of the pairs used among all that were given, from 0.
    """

    pairs: int
    floor_rlu: int
    line: DemingFit
    check: PassingBablokFit
    scatter: float
    reference_logs: tuple[float, ...]
    places: tuple[int, ...]


@dataclasses.dataclass(frozen=True)
class BridgedLimit:
    """A limit in RLU of the new scale with its 95 % interval.

    ``rlu`` is the line's value, ``whole_rlu`` the whole number that does not exceed it and
    ``careful_rlu`` the one that does not exceed the interval's lower end. ``other_rlu`` is the
    other method's. ``one_low_rlu`` to ``one_high_rlu`` is where about 95 of 100 single swabs of
    the new scale read, where the reference reads exactly its limit.
    """

    reference_rlu: int
    rlu: float
    low_rlu: float
    high_rlu: float
    other_rlu: float
    one_low_rlu: float
    one_high_rlu: float

    @property
    def whole_rlu(self) -> int:
        """The limit as it can be set, a whole number of RLU."""
        return math.floor(self.rlu + 1e-9)

    @property
    def careful_rlu(self) -> int:
        """The lower end of the interval as it can be set, a whole number of RLU."""
        return math.floor(self.low_rlu + 1e-9)


@dataclasses.dataclass(frozen=True)
class BridgedLimits:
    """Alert level and action limit, in RLU of the new scale, and the fit that they come from."""

    fit: BridgeFit
    alert: BridgedLimit
    action: BridgedLimit


def fit_bridge(*, reference_rlu: Sequence[int], new_rlu: Sequence[int]) -> BridgeFit:
    """The line from the reference scale to the new one, or :class:`NoBridge`.

    ``reference_rlu`` and ``new_rlu`` are the pairs' readings in RLU of their own scale, in one
    order. Where all pairs together bend, as scales that differ by a factor do near zero, those
    from 3 RLU up are tried alone, then those from 10 RLU up.

    >>> reference = [0, 1, 2, 3, 5, 6, 8, 9, 11, 14, 16, 19, 23, 30, 34, 41, 55, 68, 80, 120]
    >>> new = [0, 1, 2, 2, 4, 5, 6, 8, 9, 10, 14, 15, 20, 23, 29, 31, 46, 52, 70, 96]
    >>> round(fit_bridge(reference_rlu=reference, new_rlu=new).line.slope, 2)
    0.96
    """
    x, y = paired(reference_rlu, new_rlu, least=0)
    require("reading", x, unit="RLU", minimum=0)
    require("reading", y, unit="RLU", minimum=0)
    _check_enough(list(x), list(y))
    logs = [(log_of_rlu(a), log_of_rlu(b)) for a, b in zip(x.tolist(), y.tolist(), strict=True)]
    bent: NoBridge | None = None
    for floor_rlu in FLOORS_RLU:
        places = [k for k, pair in enumerate(logs) if sum(pair) >= 2 * log_of_rlu(floor_rlu)]
        if bent is not None and len(places) < LEAST_PAIRS:
            more = LEAST_PAIRS - len(places)
            raise NoBridge(
                f"{bent} From {floor_rlu} RLU up there are only {len(places)} pairs, too few to "
                f"test those alone. {more} more are needed there.",
                code="not_linear",
                more=more,
            )
        try:
            return _fit(logs, places, floor_rlu=floor_rlu)
        except NoBridge as refused:
            if refused.code != "not_linear":
                raise
            bent = bent or refused
    raise NoBridge(f"{bent} They also bend from {FLOORS_RLU[-1]} RLU up.", code="not_linear")


def _check_enough(x: list[float], y: list[float]) -> None:
    n = len(x)
    if n < LEAST_PAIRS:
        raise NoBridge(
            f"There {'is 1 complete pair' if n == 1 else f'are {n} complete pairs'}. At least "
            f"{LEAST_PAIRS} are needed, {LEAST_PAIRS - n} more. {GOOD_PAIRS} are better.",
            code="too_few",
            more=LEAST_PAIRS - n,
        )
    if n > MOST_PAIRS:
        raise OutOfRange(f"{n} pairs are too many for a study. Enter at most {MOST_PAIRS}.")
    for name, side in (("reference", x), ("new", y)):
        if max(side) == 0:
            raise NoBridge(
                f"Every reading of the {name} scale is 0 RLU. Also take readings where it is not "
                "clean: before a clean, at a drain, on a floor.",
                code="all_zero",
            )
        if max(side) == min(side):
            raise NoBridge(
                f"Every reading of the {name} scale is {shown(side[0])} RLU. Take readings at "
                "different points, clean and not clean.",
                code="all_equal",
            )
    both = sum(1 for a, b in zip(x, y, strict=True) if a > 0 and b > 0)
    if both < LEAST_ABOVE_ZERO:
        raise NoBridge(
            f"Only {both} pairs are above 0 RLU on both scales. At least {LEAST_ABOVE_ZERO} are "
            f"needed, {LEAST_ABOVE_ZERO - both} more. Also take readings where it is not clean.",
            code="mostly_zero",
            more=LEAST_ABOVE_ZERO - both,
        )


def _fit(every: list[tuple[float, float]], places: list[int], *, floor_rlu: int) -> BridgeFit:
    logs = [every[place] for place in places]
    x, y = [pair[0] for pair in logs], [pair[1] for pair in logs]
    try:
        check = passing_bablok(x=x, y=y)
    except OutOfRange as error:
        raise NoBridge(str(error), code="not_together") from error
    _check_outlier(x, y, check, places)
    try:
        line = deming(x=x, y=y)
    except OutOfRange as error:
        raise NoBridge(str(error), code="not_together") from error
    if check.linearity_p < LINEARITY_P:
        raise NoBridge(
            "The logarithms of the pairs do not follow a straight line (CUSUM test of Passing and "
            f"Bablok, p = {shown(check.linearity_p, significant=2)}), so a limit cannot be "
            "transferred by a line.",
            code="not_linear",
        )
    low, high = line.ci_slope
    if low < SLOPE_LOW or high > SLOPE_HIGH:
        raise NoBridge(
            f"The slope of the logarithms is {shown(line.slope, significant=2)} (95 % interval "
            f"{shown(low, significant=2)} to {shown(high, significant=2)}). Two scales that count "
            "the same light have a slope near 1. Check for swapped pairs, and take more readings "
            "over a wider range.",
            code="slope",
        )
    residuals = [b - line.at(a) for a, b in logs]
    scatter = math.sqrt(math.fsum(r * r for r in residuals) / (len(logs) - 2))
    return BridgeFit(
        pairs=len(logs),
        floor_rlu=floor_rlu,
        line=line,
        check=check,
        scatter=scatter,
        reference_logs=tuple(x),
        places=tuple(places),
    )


def _check_outlier(
    x: list[float], y: list[float], check: PassingBablokFit, places: list[int]
) -> None:
    """Refuse while one pair lies far off the line of the others."""
    if check.slope <= 0:
        raise NoBridge(
            "The two scales do not rise together in these pairs. Check for swapped pairs.",
            code="not_together",
        )
    steep = math.sqrt(1 + check.slope**2)
    off = [abs(b - check.at(a)) / steep for a, b in zip(x, y, strict=True)]
    sd = max(1.4826 * sorted(off)[len(off) // 2], LEAST_SD)
    worst = max(range(len(off)), key=off.__getitem__)
    if off[worst] > OUTLIER_SDS * sd:
        raise NoBridge(
            f"One pair, {round(rlu_of_log(x[worst]))} and {round(rlu_of_log(y[worst]))} RLU, lies "
            "far from all the others. Check for a typing error or a touched tip, and exclude the "
            "pair with that reason. If nothing was wrong, take more such readings.",
            code="outlier",
            pair=places[worst],
        )


def bridged_limits(*, fit: BridgeFit, alert_rlu: int, action_rlu: int) -> BridgedLimits:
    """The reference scale's limits on the new scale with 95 % intervals, or :class:`NoBridge`.

    ``fit`` as from :func:`fit_bridge`; ``alert_rlu`` and ``action_rlu`` in RLU of the reference
    scale. Refuses where the pairs do not reach beyond both limits, where one pair decides, where
    the two methods differ, and where an interval is wider than a factor of 2.

    >>> reference = [0, 1, 2, 3, 5, 6, 8, 9, 11, 14, 16, 19, 23, 30, 34, 41, 55, 68, 80, 120]
    >>> new = [0, 1, 2, 2, 4, 5, 6, 8, 9, 10, 14, 15, 20, 23, 29, 31, 46, 52, 70, 96]
    >>> fit = fit_bridge(reference_rlu=reference, new_rlu=new)
    >>> found = bridged_limits(fit=fit, alert_rlu=10, action_rlu=30)
    >>> found.alert.whole_rlu, found.action.whole_rlu
    (8, 24)
    """
    require("alert level", alert_rlu, unit="RLU", minimum=0)
    require("action limit", action_rlu, unit="RLU", minimum=alert_rlu)
    _check_range(fit, alert_rlu, action_rlu)
    found = BridgedLimits(fit=fit, alert=_carried(fit, alert_rlu), action=_carried(fit, action_rlu))
    _check_pull(fit, action_rlu)
    for name, limit in (("alert level", found.alert), ("action limit", found.action)):
        apart = _ratio(limit.other_rlu, limit.rlu)
        outside = not limit.low_rlu <= limit.other_rlu <= limit.high_rlu
        if outside and not 1 / MOST_APART <= apart <= MOST_APART:
            raise NoBridge(
                f"The two methods differ on the {name}: {shown(limit.rlu, significant=3)} RLU by "
                f"Deming, {shown(limit.other_rlu, significant=3)} RLU by Passing and Bablok. A few "
                "pairs pull the line. Check those far from it, and take more readings.",
                code="methods_differ",
            )
        width = _ratio(limit.high_rlu, limit.low_rlu)
        if width > WIDEST_RATIO:
            more = _more_pairs(fit.pairs, width)
            raise NoBridge(
                f"The {name} lies between {shown(limit.low_rlu, significant=2)} and "
                f"{shown(limit.high_rlu, significant=2)} RLU of the new scale, which is too "
                f"uncertain. About {more} more pairs are needed, fewer near the limits.",
                code="too_wide",
                more=more,
            )
    return found


def _carried(fit: BridgeFit, limit_rlu: int) -> BridgedLimit:
    place = log_of_rlu(limit_rlu)
    low, high = fit.line.interval_at(place)
    middle = fit.line.at(place)
    return BridgedLimit(
        reference_rlu=limit_rlu,
        rlu=rlu_of_log(middle),
        low_rlu=rlu_of_log(low),
        high_rlu=rlu_of_log(high),
        other_rlu=rlu_of_log(fit.check.at(place)),
        one_low_rlu=rlu_of_log(middle - 1.96 * fit.scatter),
        one_high_rlu=rlu_of_log(middle + 1.96 * fit.scatter),
    )


def _ratio(first_rlu: float, second_rlu: float) -> float:
    """Of RLU + 1, as the logarithms see it."""
    return (first_rlu + 1) / (second_rlu + 1)


def _check_range(fit: BridgeFit, alert_rlu: int, action_rlu: int) -> None:
    # Where low pairs were set aside because of the bend, those near the level have to do.
    low = log_of_rlu(2 * alert_rlu if fit.floor_rlu else alert_rlu)
    high = log_of_rlu(action_rlu)
    below = sum(1 for place in fit.reference_logs if place <= low + 1e-12)
    above = sum(1 for place in fit.reference_logs if place >= high - 1e-12)
    if above < LEAST_BEYOND:
        more = LEAST_BEYOND - above
        raise NoBridge(
            f"Only {above} of the pairs read{'s' if above == 1 else ''} the action limit of "
            f"{action_rlu} RLU or more on the reference scale. At least {LEAST_BEYOND} are needed, "
            f"{more} more. Take readings where it is not clean: before a clean, at a drain, on a "
            "floor.",
            code="range",
            more=more,
        )
    if alert_rlu < fit.floor_rlu:
        raise NoBridge(
            f"The line is straight only from {fit.floor_rlu} RLU up, and the alert level of "
            f"{alert_rlu} RLU lies below that. Record a baseline on the new scale instead.",
            code="range",
        )
    if below < LEAST_BEYOND:
        more = LEAST_BEYOND - below
        raise NoBridge(
            f"Only {below} of the pairs read{'s' if below == 1 else ''} near the alert level of "
            f"{alert_rlu} RLU or less on the reference scale. At least {LEAST_BEYOND} are needed, "
            f"{more} more. Take readings at clean points too.",
            code="range",
            more=more,
        )


def _check_pull(fit: BridgeFit, action_rlu: int) -> None:
    place = log_of_rlu(action_rlu)
    whole = fit.line.at(place)
    pulls = [abs(intercept + slope * place - whole) for intercept, slope in fit.line.without]
    worst = max(range(len(pulls)), key=pulls.__getitem__)
    if pulls[worst] > math.log10(MOST_PULL):
        raise NoBridge(
            "One pair decides the limit. Without the pair at "
            f"{round(rlu_of_log(fit.reference_logs[worst]))} RLU on the reference scale it would "
            f"move by {shown(100 * (10 ** pulls[worst] - 1), significant=2)} %. Check that pair, "
            "and take more readings like it.",
            code="one_pair_decides",
            pair=fit.places[worst],
        )


def _more_pairs(pairs: int, width: float) -> int:
    """Pairs to add until an interval of the ratio ``width`` is narrow enough: as 1/√n."""
    wanted = pairs * (math.log(width) / math.log(WIDEST_RATIO)) ** 2
    return max(math.ceil(wanted) - pairs, 1)
