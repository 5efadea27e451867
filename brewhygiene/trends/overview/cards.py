"""The figure cards of the overview: a value, its change, its past year, and where to go on."""

import dataclasses
from collections.abc import Callable, Sequence

from brewhygiene.quantities.words import hours_words, how_many, percent, percent_range
from brewhygiene.trends.overview.queries import Overview
from brewhygiene.trends.overview.sentences import compared_briefly
from brewhygiene.trends.turns.totals import Totals

# Pages for those who see everything; nobody else is sent there.
RESTRICTED = frozenset({"trends:compare", "trends:common"})


@dataclasses.dataclass(frozen=True)
class Card:
    """One figure. ``rows`` opens what it counts; ``next_page`` is where to go on.

    ``line`` is the figure of each of the last twelve months.
    """

    title: str
    value: str
    says: str
    rows: str = ""
    count: int | None = None
    unit: str = ""
    change: str = ""
    line: Sequence[float | None] = ()
    next_words: str = ""
    next_page: str = ""

    @property
    def for_all(self) -> bool:
        """Whether everybody signed in may go to the next page."""
        return self.next_page not in RESTRICTED


def cards_of(shown: Overview, *, priced: bool) -> list[Card]:
    """The cards in the order of the page."""
    return [
        _first_time(shown),
        _recleaned(shown),
        _hours(shown),
        _lapses(shown),
        _unjudged(shown),
        _overdue(shown),
        _cost(shown, priced=priced),
    ]


def _line(shown: Overview, value: Callable[[Totals], float | None]) -> list[float | None]:
    return [value(month.totals) if month.totals.turnarounds else None for month in shown.months]


def _change(shown: Overview, value: Callable[[Totals], int]) -> str:
    """A count against that of the period before, where that is compared."""
    if shown.before is None:
        return ""
    before = value(shown.before)
    if before == value(shown.totals):
        return f"Same as in {shown.period.before.words}"
    return f"{before} in {shown.period.before.words}"


def _first_time(shown: Overview) -> Card:
    totals = shown.totals
    title = "Clean the first time"
    if totals.clean is None:
        says = (
            "No vessel was emptied."
            if not totals.turnarounds
            else "A turnaround is judged once every point required for release was read and judged."
        )
        return Card(title, "not judged", says, rows="all", count=totals.turnarounds)
    share = totals.clean
    says = f"{share.count} of {share.number}. 95 % interval {percent_range(share.low, share.high)}."
    if totals.not_judged:
        says += f" {totals.not_judged} not judged."
    return Card(
        title,
        percent(share.share),
        says,
        rows="judged",
        count=share.number,
        change=compared_briefly(shown.figures),
        line=_line(shown, lambda month: month.clean.share if month.clean else None),
        next_words="Compare vessels" if totals.not_clean else "",
        next_page="trends:compare" if totals.not_clean else "",
    )


def _recleaned(shown: Overview) -> Card:
    totals = shown.totals
    found = totals.recleaned
    return Card(
        "Re-cleaned",
        str(found),
        f"{how_many(totals.recleans, 'clean')} more than planned."
        if found
        else "No turnaround was re-cleaned.",
        unit=f"of {totals.turnarounds}" if found else "",
        rows="re-cleaned",
        count=found,
        change=_change(shown, lambda totals: totals.recleaned),
        line=_line(shown, lambda month: month.recleaned),
        next_words="What they share" if found else "",
        next_page="trends:common" if found else "",
    )


def _hours(shown: Overview) -> Card:
    totals = shown.totals
    title = "Emptied to released, median"
    if totals.median_h is None:
        return Card(title, "none", "Nothing was released.", rows="released", count=0)
    before = shown.before.median_h if shown.before else None
    return Card(
        title,
        hours_words(totals.median_h),
        f"{how_many(totals.released, 'release')}."
        + (
            f" One in ten took longer than {hours_words(totals.slow_h)}."
            if totals.slow_h is not None
            else ""
        ),
        rows="released",
        count=totals.released,
        change="" if before is None else f"{hours_words(before)} in {shown.period.before.words}",
        line=_line(shown, lambda month: month.median_h),
    )


def _lapses(shown: Overview) -> Card:
    lapsed = shown.totals.lapsed
    return Card(
        "Lapsed releases",
        str(lapsed),
        "Their hold time passed before the fill. Release closer to the fill."
        if lapsed
        else "No release lapsed before its fill.",
        unit=f"of {shown.totals.released}" if lapsed else "",
        rows="lapsed",
        count=lapsed,
        change=_change(shown, lambda totals: totals.lapsed),
        line=_line(shown, lambda month: month.lapsed),
        next_words="Release queue" if lapsed else "",
        next_page="release:queue" if lapsed else "",
    )


def _unjudged(shown: Overview) -> Card:
    title = "Unjudged readings"
    if not shown.unjudged:
        says = (
            f"Each of {how_many(shown.readings, 'reading')} has a verdict."
            if shown.readings
            else "No reading was taken."
        )
        return Card(title, "0", says, "unjudged", 0)
    return Card(
        title,
        str(shown.unjudged),
        "No limits are approved for that meter, ATP test and point.",
        unit=f"of {shown.readings}",
        rows="unjudged",
        count=shown.unjudged,
        next_words="Limits",
        next_page="atp:setup_limits",
    )


def _overdue(shown: Overview) -> Card:
    title = "Plates overdue"
    if not shown.overdue:
        return Card(title, "0", "Every plate due so far is read.", "plates-overdue", 0)
    return Card(
        title,
        str(shown.overdue),
        "They are past their due date and not read.",
        unit="now",
        rows="plates-overdue",
        count=shown.overdue,
        next_words="Read plates",
        next_page="plates:due",
    )


def _cost(shown: Overview, *, priced: bool) -> Card:
    title = "Cost of cleaning"
    if not priced:
        return Card(
            title,
            "not known",
            "No price is set. Prices of water, energy and time give each clean a cost.",
            next_words="Set prices",
            next_page="brewery:prices",
        )
    if shown.cost is None or shown.cost.per_volume is None:
        return Card(title, "none", "No clean with a cost ended.", rows="cleans", count=0)
    value, unit = shown.cost.words.split(" per ")
    return Card(
        title,
        value,
        f"Per volume of the vessel, {shown.cost.coverage}.",
        rows="cleans",
        count=shown.cost.ended,
        unit=f"per {unit}",
    )
