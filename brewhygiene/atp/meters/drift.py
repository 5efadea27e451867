"""Charts of each meter's control checks, and whether a meter drifts.

Blank and positive readings are charted on log10(RLU + 1), each on axes of its own. The limits
come from the first checks of the period, so that a slow drift shows against them.
"""

import dataclasses
import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Literal

from django.db.models import F, Window
from django.db.models.functions import RowNumber
from django.utils import timezone

from brewhygiene.atp.models.meters import ControlCheck, Meter
from brewhygiene.quantities.style import shown_moment
from brewhygiene.science.control.individuals import LEAST_FOR_LIMITS
from brewhygiene.science.control.judging import (
    BASELINE,
    CUSUM_RULE,
    EWMA_RULE,
    Phase,
    judge_phase,
    least_sigma_of_counts,
)
from brewhygiene.science.errors import TooFewReadings

CHECKS_CHARTED = 120
REACH = timedelta(days=366)

Side = Literal["blank", "positive"]


@dataclasses.dataclass(frozen=True)
class CheckRow:
    """One control check, readings in RLU."""

    pk: int
    checked_at: datetime
    blank_rlu: int
    positive_rlu: int
    passed: bool
    note: str


@dataclasses.dataclass(frozen=True)
class SideChart:
    """The chart of the blanks, or of the positives; ``phase`` is ``None`` where ``why_not``."""

    side: Side
    phase: Phase | None
    why_not: str = ""


@dataclasses.dataclass(frozen=True)
class Drift:
    """One drift of a meter, with its first and last check."""

    side: Side
    direction: str
    since: datetime
    until: datetime | None = None  # the last check that showed it, where it is over

    @property
    def words(self) -> str:
        """As “Positive control reads lower since 3 March 2026”, by the brewery's calendar."""
        way = "higher" if self.direction == "up" else "lower"
        since = shown_moment(timezone.localtime(self.since), "j F Y")
        if self.until is None:
            what = "Positive control reads" if self.side == "positive" else "Blanks read"
            return f"{what} {way} since {since}"
        what = "Positive control read" if self.side == "positive" else "Blanks read"
        until = shown_moment(timezone.localtime(self.until), "j F Y")
        return f"{what} {way} from {since} to {until}"


@dataclasses.dataclass(frozen=True)
class CheckCharts:
    """A meter's checks in time order with both charts."""

    checks: Sequence[CheckRow]
    blank: SideChart
    positive: SideChart

    @property
    def drifts(self) -> list[Drift]:
        """Drifts at the latest check.

        A single reading outside its limits is no drift, and a lower blank does no harm.
        """
        return [drift for drift in self._all() if drift.until is None]

    @property
    def past(self) -> list[Drift]:
        """Drifts that ended earlier in the period, the oldest first."""
        over = [drift for drift in self._all() if drift.until is not None]
        return sorted(over, key=lambda drift: drift.since)

    def _all(self) -> list[Drift]:
        found = []
        for chart, directions in ((self.positive, ("down", "up")), (self.blank, ("up",))):
            for direction in directions:
                for first, last in _stretches(chart, direction):
                    until = None if last == len(self.checks) - 1 else self.checks[last].checked_at
                    found.append(Drift(chart.side, direction, self.checks[first].checked_at, until))
        return found


def _stretches(chart: SideChart, direction: str) -> list[tuple[int, int]]:
    """First and last place of each EWMA or CUSUM signal, overlapping ones merged."""
    signals = chart.phase.signals if chart.phase is not None else ()
    found: list[tuple[int, int]] = []
    for first, last in sorted(
        (signal.since, signal.last)
        for signal in signals
        if signal.rule in (EWMA_RULE, CUSUM_RULE) and signal.direction == direction
    ):
        if found and first <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], last))
        else:
            found.append((first, last))
    return found


def check_charts(meters: Sequence[Meter], *, now: datetime) -> dict[int, CheckCharts]:
    """The last checks of each meter within a year, charted. 1 query, whatever their number."""
    rows = (
        ControlCheck.objects.filter(
            meter__in=[meter.pk for meter in meters], checked_at__gte=now - REACH
        )
        .annotate(
            back=Window(
                RowNumber(),
                partition_by=[F("meter_id")],
                order_by=[F("checked_at").desc(), F("pk").desc()],
            )
        )
        .filter(back__lte=CHECKS_CHARTED)
        .order_by("checked_at", "pk")
        .values_list("meter_id", "pk", "checked_at", "blank_rlu", "positive_rlu", "passed", "note")
    )
    checks: dict[int, list[CheckRow]] = {meter.pk: [] for meter in meters}
    for meter_id, pk, checked_at, blank_rlu, positive_rlu, passed, note in rows:
        checks[meter_id].append(CheckRow(pk, checked_at, blank_rlu, positive_rlu, passed, note))
    return {pk: charts_of_checks(own) for pk, own in checks.items()}


def charts_of_checks(checks: Sequence[CheckRow]) -> CheckCharts:
    """Both charts of checks in time order."""
    return CheckCharts(
        checks=checks,
        blank=_chart("blank", [check.blank_rlu for check in checks]),
        positive=_chart("positive", [check.positive_rlu for check in checks]),
    )


def _chart(side: Side, rlu: Sequence[int]) -> SideChart:
    if not rlu:
        return SideChart(
            side, None, f"No control check in a year. Limits need {LEAST_FOR_LIMITS} checks."
        )
    logs = [math.log10(value + 1) for value in rlu]
    try:
        phase = judge_phase(logs, least_sigma=least_sigma_of_counts(logs[:BASELINE]))
    except TooFewReadings as too_few:
        first = rlu[:BASELINE]
        if len(first) >= LEAST_FOR_LIMITS and max(first) == min(first):
            return SideChart(
                side,
                None,
                f"The first {len(first)} checks all read {first[0]} RLU, so a drift cannot be "
                "calculated. The control's range still applies to each check.",
            )
        return SideChart(side, None, str(too_few))
    return SideChart(side, phase)
