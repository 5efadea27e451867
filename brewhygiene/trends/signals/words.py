"""Signals in words."""

import dataclasses
from datetime import datetime

from brewhygiene.quantities.words import counted
from brewhygiene.science.control.judging import Signal
from brewhygiene.science.control.rules import RULE_SETS
from brewhygiene.trends.charting import PhaseChart
from brewhygiene.trends.models import PointStanding

RULES = {
    "ewma": "the moving average (EWMA) is beyond its limit",
    "cusum": "the cumulative sum (CUSUM) is beyond its limit",
    **{rule.code: rule.words for one in RULE_SETS.values() for rule in one.rules},
}


@dataclasses.dataclass(frozen=True)
class SignalWords:
    """One signal: what it says, by which rule, since when and for how many cleans."""

    rule: str
    direction: str
    since: datetime
    found_at: datetime
    last_at: datetime
    cleans: int
    on: bool
    first_result_id: int
    found_result_id: int

    @property
    def says(self) -> str:
        """What the readings do."""
        return {"up": "Readings rise", "down": "Readings fall"}.get(
            self.direction, "Unusual variation"
        )

    @property
    def cleans_words(self) -> str:
        return counted(self.cleans, "clean")


def signals_of(chart: PhaseChart) -> list[SignalWords]:
    """The signals of a phase: those of now first, lasting ones before single readings."""
    if chart.judged is None:
        return []
    readings = chart.phase.readings
    last = len(readings) - 1
    found = [
        SignalWords(
            rule=signal.words,
            direction=signal.direction,
            since=readings[signal.since].taken_at,
            found_at=readings[signal.found].taken_at,
            last_at=readings[signal.last].taken_at,
            cleans=signal.last - signal.since + 1,
            on=signal.on_at(last),
            first_result_id=readings[signal.since].result_id,
            found_result_id=readings[signal.found].result_id,
        )
        for signal in chart.judged.signals
    ]
    return sorted(
        found,
        key=lambda one: (
            not one.on,
            one.on and one.rule not in (RULES["ewma"], RULES["cusum"]),
            -one.found_at.timestamp(),
        ),
    )


def rising_now(signal: Signal, *, last: int) -> bool:
    """Whether a signal says now that readings get worse and go on doing so."""
    return signal.on_at(last) and signal.direction == "up" and signal.rule in ("ewma", "cusum")


def standing_words(row: PointStanding) -> str:
    """The rule by which a point's standing signals, in words; '' where none does."""
    return RULES.get(row.rule.removesuffix("_down"), "")
