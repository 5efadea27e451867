"""The rows behind each figure of the overview, counted by the rule that made the figure."""

import dataclasses
from datetime import datetime
from typing import Any

from brewhygiene.plates.queries import plates_for_pages
from brewhygiene.trends.overview.queries import overdue_plates, standing_results, unjudged_results
from brewhygiene.trends.turns.cleaning_cost import ended_cleans
from brewhygiene.trends.turns.facts import turn_facts
from brewhygiene.trends.turns.periods import Period
from brewhygiene.trends.turns.totals import TURNAROUNDS, matching

OTHERS = {
    "readings": "Readings",
    "unjudged": "Readings without a verdict",
    "plates-overdue": "Plates overdue",
    "cleans": "Cleans that ended",
}
WHATS = (*TURNAROUNDS, *OTHERS)
# Those that are of now, whatever period is asked for.
OF_NOW = frozenset({"plates-overdue"})


@dataclasses.dataclass(frozen=True)
class Rows:
    """Rows of one kind: ``shape`` says which table shows them, ``every`` is what is paged."""

    title: str
    shape: str
    every: Any
    order: str = "the latest first"

    def about(self, count: int, period: Period | None) -> str:
        """How many, of which time and in which order."""
        if period is None:
            return f"{count} now, the oldest first"
        done = {"turnarounds": "emptied in", "cleans": "started in"}.get(self.shape, "read in")
        return f"{count} {done} {period.words}, {self.order}"


def rows_of(what: str, period: Period, *, now: datetime) -> Rows:
    """The rows of ``what``, one of ``WHATS``. 10 queries for turnarounds, else none yet."""
    match what:
        case "readings" | "unjudged":
            found = unjudged_results(period) if what == "unjudged" else standing_results(period)
            return Rows(
                OTHERS[what],
                "results",
                found.select_related("point__vessel", "meter", "recorded_by").order_by(
                    "-taken_at", "-pk"
                ),
            )
        case "plates-overdue":
            overdue = overdue_plates().values("pk")
            return Rows(
                OTHERS[what],
                "plates",
                plates_for_pages().filter(pk__in=overdue).order_by("due_on", "pk"),
            )
        case "cleans":
            return Rows(
                OTHERS[what],
                "cleans",
                ended_cleans(period.since, period.until).select_related(
                    "turnaround__vessel", "version__regime", "started_by"
                ),
            )
    facts = matching(turn_facts(since=period.since, until=period.until, now=now), what)
    title = TURNAROUNDS[what].title
    if what == "released":
        facts.sort(key=lambda fact: -(fact.hours_to_release or 0))
        return Rows(title, "turnarounds", facts, order="the slowest first")
    return Rows(title, "turnarounds", facts[::-1])
