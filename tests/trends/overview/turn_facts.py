"""Invented facts and totals, as plain data."""

from datetime import UTC, datetime, timedelta
from typing import Any

from brewhygiene.trends.overview.sentences import Figures
from brewhygiene.trends.turns.facts import TurnFact, Why
from brewhygiene.trends.turns.totals import totals_of

OPENED = datetime(2026, 3, 2, 8, tzinfo=UTC)


def fact(number: int = 1, **values: Any) -> TurnFact:
    """A turnaround that was clean the first time and released after four hours."""
    usual: dict[str, Any] = {
        "turnaround_id": number,
        "vessel_id": 1,
        "vessel_name": "FV1",
        "opened_at": OPENED + timedelta(hours=number),
        "closed_at": OPENED + timedelta(hours=number + 6),
        "released_at": OPENED + timedelta(hours=number + 4),
        "hours_to_release": 4.0,
        "first_time_clean": True,
        "why": Why.CLEAN,
        "cleaned_at": OPENED + timedelta(hours=number + 2),
        "recleans": 0,
        "resanitises": 0,
        "stopped": 0,
        "lapses": 0,
        "regime": "Regime",
        "version": 1,
        "beer_before": "",
        "sour_or_mixed_before": False,
        "diastatic_before": False,
        "fruit_or_hops_before": False,
        "agent_lots": (),
        "cleaned_by": (),
        "released_by": (),
        "self_release": False,
        "without_release": False,
        "deviations": 0,
    }
    return TurnFact(**{**usual, **values})


def facts(clean: int, *, dirty: int = 0, not_judged: int = 0, **values: Any) -> list[TurnFact]:
    """So many clean the first time, so many not, so many not judged."""
    outcomes = [True] * clean + [False] * dirty + [None] * not_judged
    return [fact(n, first_time_clean=each, **values) for n, each in enumerate(outcomes)]


def figures(now: list[TurnFact], before: list[TurnFact] | None = None, **values: Any) -> Figures:
    return Figures(
        words="March 2026",
        before_words="February 2026",
        totals=totals_of(now),
        before=None if before is None else totals_of(before),
        **values,
    )
