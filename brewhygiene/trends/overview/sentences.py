"""A period in sentences, each made from its figures by one rule.

A comparison names a change only where the 95 % interval of the difference leaves out no change.
"""

import dataclasses
from collections.abc import Sequence

from brewhygiene.quantities.words import (
    capital,
    hours_words,
    how_many,
    one_or_many,
    percent,
    percent_with_interval,
)
from brewhygiene.science.rates.difference import share_difference
from brewhygiene.trends.turns.totals import Totals

# Fewer turnarounds than these say little about a share.
FEW = 10


@dataclasses.dataclass(frozen=True)
class Worse:
    """A point that is getting worse: its name, and since when in words."""

    name: str
    since: str = ""


@dataclasses.dataclass(frozen=True)
class Money:
    """What cleaning cost per unit of volume: the amount and its words, and of how many cleans."""

    per_volume: float
    words: str
    cleans: int


@dataclasses.dataclass(frozen=True)
class Figures:
    """A period, ``words`` of it, and the one before, if it is compared."""

    words: str
    before_words: str
    totals: Totals
    before: Totals | None
    readings: int = 0
    unjudged: int = 0
    deviations: Sequence[tuple[str, int]] = ()  # the most frequent first
    plates_read: int = 0
    plates_positive: int = 0
    plates_overdue: int = 0
    worse: Sequence[Worse] = ()
    worse_on: str = ""  # the day on which it is known, where that is long after
    money: Money | None = None
    money_before: Money | None = None


def sentences_of(figures: Figures) -> list[str]:
    """The sentences, in the order of what matters most."""
    if not figures.totals.turnarounds:
        nothing = f"No vessel was emptied in {figures.words}, so no rate is shown."
        return [nothing, *_plates(figures), *_worse(figures)]
    return [
        *first_time(figures),
        *_recleaned(figures),
        *_hours(figures),
        *_lapses(figures),
        *_signatures(figures),
        *_unjudged(figures),
        *_deviations(figures),
        *_plates(figures),
        *_worse(figures),
        *_money(figures),
    ]


def first_time(figures: Figures) -> list[str]:
    """How many were clean the first time, how sure that is, and whether it changed."""
    totals = figures.totals
    share = totals.clean
    if share is None:
        return [
            (
                f"None of {how_many(totals.turnarounds, 'turnaround')} in {figures.words} is "
                "judged: a point required for release was not read, or has no approved limits."
            )
        ]
    sure = percent_with_interval(share.share, share.low, share.high)
    said = [
        (
            f"In {figures.words} {share.count} of {how_many(share.number, 'turnaround')} "
            f"{one_or_many(share.number, 'was', 'were')} clean the first time: {sure}."
        )
    ]
    if share.number < FEW:
        said.append(f"Fewer than {FEW} turnarounds are too few for a reliable share.")
    change = compared(figures)
    if change:
        said.append(change)
    if totals.not_judged:
        said.append(
            f"{capital(how_many(totals.not_judged, 'turnaround'))} "
            f"{one_or_many(totals.not_judged, 'is', 'are')} not judged: "
            "a point was not read, or has no approved limits."
        )
    return said


def compared(figures: Figures) -> str:
    """The share clean the first time against the stretch before."""
    if figures.before is None:
        return ""
    now, then = figures.totals.clean, figures.before.clean
    if now is None or then is None:
        return f"No turnaround of {figures.before_words} is judged to compare it with."
    found = share_difference(
        count=now.count, number=now.number, other_count=then.count, other_number=then.number
    )
    before = f"{percent(then.share)} in {figures.before_words}"
    if not found.is_significant:
        if found.difference == 0:
            return f"It was {before} too."
        return f"It was {before}. The difference is within chance (95 % interval)."
    word = "better" if found.difference > 0 else "worse"
    low, high = sorted((abs(found.low), abs(found.high)))
    return (
        f"That is {word} than the {before}, by {max(1, round(low * 100))} to {round(high * 100)} "
        "points (95 % interval)."
    )


def compared_briefly(figures: Figures) -> str:
    """The same in a few words, for a card."""
    if figures.before is None:
        return ""
    now, then = figures.totals.clean, figures.before.clean
    if now is None or then is None:
        return "No turnaround before to compare it with."
    found = share_difference(
        count=now.count, number=now.number, other_count=then.count, other_number=then.number
    )
    before = f"{percent(then.share)} before"
    if not found.is_significant:
        return f"{before}, a difference within chance."
    return f"{'Better' if found.difference > 0 else 'Worse'} than the {before}."


def _recleaned(figures: Figures) -> list[str]:
    totals = figures.totals
    if not totals.recleaned:
        return ["None was re-cleaned."]
    extra = "" if totals.recleans == totals.recleaned else f", {totals.recleans} times in all"
    was = one_or_many(totals.recleaned, "was", "were")
    return [f"{capital(how_many(totals.recleaned, 'turnaround'))} {was} re-cleaned{extra}."]


def _hours(figures: Figures) -> list[str]:
    totals, before = figures.totals, figures.before
    if totals.median_h is None:
        return ["None was released."]
    said = [f"The median time from emptied to released was {hours_words(totals.median_h)}."]
    if totals.slow_h is not None:
        said.append(f"One in ten took longer than {hours_words(totals.slow_h)}.")
    if totals.hours is not None and before is not None and before.hours is not None:
        now, then = totals.hours, before.hours
        if now.low > then.high or now.high < then.low:
            word = "longer" if now.middle > then.middle else "shorter"
            said.append(
                f"That is {word} than the {hours_words(then.middle)} in {figures.before_words}."
            )
    return said


def _lapses(figures: Figures) -> list[str]:
    lapsed = figures.totals.lapsed
    if not lapsed:
        return []
    return [f"{capital(how_many(lapsed, 'release'))} lapsed before the fill."]


def _signatures(figures: Figures) -> list[str]:
    said = []
    if figures.totals.without_release:
        number = how_many(figures.totals.without_release, "vessel")
        verb = one_or_many(figures.totals.without_release, "was", "were")
        said.append(f"{capital(number)} {verb} filled without a release.")
    if figures.totals.self_released:
        number = how_many(figures.totals.self_released, "turnaround")
        verb = one_or_many(figures.totals.self_released, "was", "were")
        said.append(
            f"{capital(number)} {verb} self-released: the person who signed had worked on the "
            "clean."
        )
    return said


def _unjudged(figures: Figures) -> list[str]:
    if not figures.unjudged:
        return []
    verb = one_or_many(figures.unjudged, "has", "have")
    return [
        (
            f"{capital(how_many(figures.unjudged, 'reading'))} of {figures.readings} {verb} no "
            "verdict: no limits are approved for that meter and point."
        )
    ]


def _deviations(figures: Figures) -> list[str]:
    total = sum(number for _, number in figures.deviations)
    if not total:
        return ["No step left its window."]
    name, most = figures.deviations[0]
    said = f"{capital(how_many(total, 'deviation'))} in the steps"
    if most == 1:
        names = [name for name, _ in figures.deviations]
        more = len(names) - 2
        said += f": {', '.join(names[:2])}" + (f" and {more} more" if more > 0 else "")
    elif len(figures.deviations) == 1:
        said += f", each time: {name}"
    else:
        said += f", most often: {name} ({most})"
    return [said + "."]


def _plates(figures: Figures) -> list[str]:
    said = []
    if figures.plates_read:
        grew = how_many(figures.plates_positive, "was", "were")
        grew = "none was" if not figures.plates_positive else grew
        said.append(f"Of {how_many(figures.plates_read, 'plate')} read, {grew} positive.")
    if figures.plates_overdue:
        verb = one_or_many(figures.plates_overdue, "is", "are")
        said.append(f"{capital(how_many(figures.plates_overdue, 'plate'))} {verb} overdue.")
    return said


def _worse(figures: Figures) -> list[str]:
    on = f" on {figures.worse_on}" if figures.worse_on else ""
    if not figures.worse:
        return [f"No point is getting worse{on}."]
    shown = [f"{each.name}{f' since {each.since}' if each.since else ''}" for each in figures.worse]
    more = len(shown) - 3
    names = " · ".join(shown[:3]) + (f" · and {more} more" if more > 0 else "")
    return [f"Getting worse{on}: {names}."]


def _money(figures: Figures) -> list[str]:
    if figures.money is None:
        return []
    said = [f"Cleaning cost {figures.money.words}, over {how_many(figures.money.cleans, 'clean')}."]
    if figures.money_before is not None:
        said.append(f"It was {figures.money_before.words} in {figures.before_words}.")
    return said
