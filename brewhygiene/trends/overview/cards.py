"""The cards of the owner's page: a figure, what it means, and what to do next."""

import dataclasses

from brewhygiene.trends.overview.queries import Overview
from brewhygiene.trends.overview.sentences import (
    capital,
    compared_briefly,
    counted,
    hours_words,
    percent,
)

# Pages for those who see everything; nobody else is sent there.
NOT_FOR_ALL = frozenset({"trends:which", "trends:common", "trends:signals"})


@dataclasses.dataclass(frozen=True)
class Card:
    """One figure. ``rows`` opens what it counts; ``next_page`` is where to go on."""

    title: str
    figure: str
    says: str
    rows: str = ""
    count: int | None = None
    unit: str = ""
    next_words: str = ""
    next_page: str = ""

    @property
    def for_all(self) -> bool:
        """Whether everybody signed in may go to the next page."""
        return self.next_page not in NOT_FOR_ALL


def cards_of(shown: Overview, *, priced: bool) -> list[Card]:
    """The cards in the order of the page."""
    return [
        _first_time(shown),
        _again(shown),
        _hours(shown),
        _lapses(shown),
        _unjudged(shown),
        _overdue(shown),
        _cost(shown, priced=priced),
        _worse(shown),
    ]


def _first_time(shown: Overview) -> Card:
    totals = shown.totals
    title = "Clean the first time"
    if totals.clean is None:
        says = (
            "No vessel was emptied."
            if not totals.turnarounds
            else "None can be told: every point that a release asks for must be read and judged."
        )
        return Card(title, "not told", says, rows="all", count=totals.turnarounds)
    share = totals.clean
    says = (
        f"{share.count} of {share.number}: between {percent(share.low)} and "
        f"{percent(share.high)}, luck allowed for. {compared_briefly(shown.figures)}"
    )
    if totals.not_told:
        says += f" {totals.not_told} not told."
    return Card(
        title,
        percent(share.share),
        says,
        rows="told",
        count=share.number,
        next_words="Which one is it?" if totals.not_clean else "",
        next_page="trends:which" if totals.not_clean else "",
    )


def _again(shown: Overview) -> Card:
    totals = shown.totals
    if not totals.cleaned_again:
        says = "No turnaround took a second clean."
        return Card("Cleaned again", "0", says, rows="cleaned-again", count=0)
    says = f"{counted(totals.recleans, 'clean')} more than planned: time, water, chemicals."
    return Card(
        "Cleaned again",
        str(totals.cleaned_again),
        says,
        unit=f"of {totals.turnarounds}",
        rows="cleaned-again",
        count=totals.cleaned_again,
        next_words="What they share",
        next_page="trends:common",
    )


def _hours(shown: Overview) -> Card:
    totals = shown.totals
    title = "Emptied to released"
    if totals.middle_h is None:
        return Card(title, "none", "Nothing was released.", rows="released", count=0)
    says = f"Half of {totals.released} took less."
    if totals.slow_h is not None:
        says += f" One in ten took longer than {hours_words(totals.slow_h)}: look at those first."
    return Card(title, hours_words(totals.middle_h), says, rows="released", count=totals.released)


def _lapses(shown: Overview) -> Card:
    lapsed = shown.totals.lapsed
    if not lapsed:
        return Card("Lapses", "0", "No release grew too old before its fill.", "lapsed", 0)
    return Card(
        "Lapses",
        str(lapsed),
        "Released, then too old before the fill. Release nearer to the fill.",
        unit=f"of {shown.totals.released}",
        rows="lapsed",
        count=lapsed,
        next_words="Release queue",
        next_page="release:queue",
    )


def _unjudged(shown: Overview) -> Card:
    if not shown.readings:
        return Card("Unjudged readings", "0", "Nothing was read.", "unjudged", 0)
    if not shown.unjudged:
        says = f"Each of {counted(shown.readings, 'reading')} has a verdict."
        return Card("Unjudged readings", "0", says, "unjudged", 0)
    return Card(
        "Unjudged readings",
        str(shown.unjudged),
        "No limits are approved for that meter, stick and point.",
        unit=f"of {shown.readings}",
        rows="unjudged",
        count=shown.unjudged,
        next_words="Limits",
        next_page="atp:setup_limits",
    )


def _overdue(shown: Overview) -> Card:
    if not shown.overdue:
        return Card("Plates overdue", "0", "Every plate due so far is read.", "plates-overdue", 0)
    return Card(
        "Plates overdue",
        str(shown.overdue),
        "Their day has passed and nobody has read them: beer may be at risk.",
        unit="now",
        rows="plates-overdue",
        count=shown.overdue,
        next_words="Read them",
        next_page="plates:due",
    )


def _cost(shown: Overview, *, priced: bool) -> Card:
    title = "Cost of cleaning"
    if not priced:
        return Card(
            title,
            "not known",
            "No price is set. With prices of water, energy and time each clean has a cost.",
            next_words="Set prices",
            next_page="brewery:prices",
        )
    if shown.cost is None or shown.cost.per_volume is None:
        return Card(title, "none", "No clean with a cost ended.", rows="cleans", count=0)
    figure, unit = shown.cost.words.split(" per ")
    says = f"{capital(shown.cost.coverage)}."
    return Card(
        title, figure, says, rows="cleans", count=shown.cost.ended, unit=f"per {unit} of vessel"
    )


def _worse(shown: Overview) -> Card:
    title = "Points getting worse"
    if not shown.worse:
        return Card(title, "0", "No point's readings go up by lasting evidence.")
    return Card(
        title,
        str(len(shown.worse)),
        "Readings go up by lasting evidence. Look before they fail.",
        unit="now",
        next_words="All signals",
        next_page="trends:signals",
    )
