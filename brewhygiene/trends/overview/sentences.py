"""A stretch of time read aloud: from its figures to plain sentences, each by one rule.

Nothing is said that the figures do not hold. A comparison names a change only where the interval
of the difference leaves none out; else it says that it may be chance.
"""

import dataclasses
from collections.abc import Iterable, Sequence

from brewhygiene.quantities.parsing import show_number
from brewhygiene.science.rates.difference import share_difference
from brewhygiene.science.rates.proportions import Share
from brewhygiene.trends.overview.totals import Totals

# Fewer turnarounds than these say little about a share.
FEW = 10


@dataclasses.dataclass(frozen=True)
class Worse:
    """A point whose readings go up by lasting evidence: its name, and since when in words."""

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
    """What is read: a stretch of time, ``words`` of it, and the one before, if it is compared."""

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


def read(figures: Figures) -> list[str]:
    """The sentences, in the order of what matters most."""
    if not figures.totals.turnarounds:
        nothing = f"No vessel was emptied in {figures.words}, so no rate is shown."
        return [nothing, *_plates(figures), *_worse(figures)]
    return [
        *first_time(figures),
        *_cleaned_again(figures),
        *_hours(figures),
        *_lapses(figures),
        *_signatures(figures),
        *_unjudged(figures),
        *_deviations(figures),
        *_plates(figures),
        *_worse(figures),
        *_money(figures),
    ]


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun.

    >>> counted(1, "plate"), counted(0, "plate"), counted(2, "boss", "bosses")
    ('1 plate', 'no plate', '2 bosses')
    """
    if number == 0:
        return f"no {one}"
    return f"{number} {one if number == 1 else many or one + 's'}"


def capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def percent(share: float) -> str:
    """A share in whole per cent; never 0 or 100 for what is neither.

    >>> percent(0.996), percent(0.5), percent(1)
    ('99.6 %', '50 %', '100 %')
    """
    whole = round(share * 100)
    if whole in (0, 100) and share not in (0, 1):
        return f"{share * 100:.1f} %"
    return f"{whole} %"


def share_words(share: Share) -> str:
    """A share with its interval."""
    return f"{percent(share.share)} (95 % interval {percent(share.low)} to {percent(share.high)})"


def hours_words(hours: float) -> str:
    """Hours as a person says them.

    >>> hours_words(0.5), hours_words(7.26), hours_words(50)
    ('30 min', '7.3 h', '50 h')
    """
    if hours < 1:
        return f"{round(hours * 60)} min"
    return f"{show_number(hours, significant=2 if hours < 100 else 3)} h"


def first_time(figures: Figures) -> list[str]:
    """How many were clean the first time, how sure that is, and whether it changed."""
    totals = figures.totals
    share = totals.clean
    if share is None:
        return [
            (
                f"Of {counted(totals.turnarounds, 'turnaround')} in {figures.words} none can be "
                "called clean or not the first time: a point that a release asks for was not read, "
                "or no limits judge it."
            )
        ]
    said = [
        (
            f"In {figures.words} {share.count} of {counted(share.number, 'turnaround')} "
            f"{'was' if share.number == 1 else 'were'} clean the first time: {share_words(share)}."
        )
    ]
    if share.number < FEW:
        said.append(f"That is too few to tell how good it is: fewer than {FEW}.")
    change = compared(figures)
    if change:
        said.append(change)
    if totals.not_told:
        said.append(
            f"{capital(counted(totals.not_told, 'turnaround'))} cannot be told: "
            "a point was not read, or not judged."
        )
    return said


def compared(figures: Figures) -> str:
    """The share clean the first time against the stretch before."""
    if figures.before is None:
        return ""
    now, then = figures.totals.clean, figures.before.clean
    if now is None or then is None:
        return f"There is nothing to compare it with in {figures.before_words}."
    found = share_difference(
        count=now.count, number=now.number, other_count=then.count, other_number=then.number
    )
    before = f"{percent(then.share)} in {figures.before_words}"
    if not found.told:
        if found.difference == 0:
            return f"It was {before} too."
        return f"It was {before}: too few to tell a change from chance."
    word = "better" if found.difference > 0 else "worse"
    low, high = sorted((abs(found.low), abs(found.high)))
    return (
        f"That is {word} than the {before}, by {max(1, round(low * 100))} to {round(high * 100)} "
        "points: more than chance."
    )


def compared_briefly(figures: Figures) -> str:
    """The same in a few words, for a card."""
    if figures.before is None:
        return ""
    now, then = figures.totals.clean, figures.before.clean
    if now is None or then is None:
        return "Nothing to compare it with before."
    found = share_difference(
        count=now.count, number=now.number, other_count=then.count, other_number=then.number
    )
    before = f"{percent(then.share)} before"
    if not found.told:
        return f"{before}: too few to tell a change."
    return f"{'Better' if found.difference > 0 else 'Worse'} than the {before}."


def _cleaned_again(figures: Figures) -> list[str]:
    totals = figures.totals
    if not totals.cleaned_again:
        return ["None had to be cleaned again."]
    extra = "" if totals.recleans == totals.cleaned_again else f", {totals.recleans} times in all"
    return [f"{capital(counted(totals.cleaned_again, 'turnaround'))} took a second clean{extra}."]


def _hours(figures: Figures) -> list[str]:
    totals, before = figures.totals, figures.before
    if totals.middle_h is None:
        return ["None was released."]
    half = f"Half were released within {hours_words(totals.middle_h)} of being emptied"
    if totals.slow_h is not None:
        half += f", one in ten took longer than {hours_words(totals.slow_h)}"
    said = [f"{half}."]
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
    return [f"{capital(counted(lapsed, 'release'))} lapsed before the fill."]


def _signatures(figures: Figures) -> list[str]:
    said = []
    if figures.totals.without_release:
        number = counted(figures.totals.without_release, "vessel")
        verb = "was" if figures.totals.without_release == 1 else "were"
        said.append(f"{capital(number)} {verb} filled without a release.")
    if figures.totals.self_released:
        number = counted(figures.totals.self_released, "turnaround")
        verb = "was" if figures.totals.self_released == 1 else "were"
        said.append(f"{capital(number)} {verb} released by someone who had cleaned.")
    return said


def _unjudged(figures: Figures) -> list[str]:
    if not figures.unjudged:
        return []
    verb = "has" if figures.unjudged == 1 else "have"
    return [
        (
            f"{capital(counted(figures.unjudged, 'reading'))} of {figures.readings} {verb} no "
            "verdict: no limits are approved for that meter and point."
        )
    ]


def _deviations(figures: Figures) -> list[str]:
    total = sum(number for _, number in figures.deviations)
    if not total:
        return ["No step left its window."]
    name, most = figures.deviations[0]
    said = f"{capital(counted(total, 'deviation'))} in the steps"
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
        grew = counted(figures.plates_positive, "was", "were")
        grew = "none was" if not figures.plates_positive else grew
        said.append(f"Of {counted(figures.plates_read, 'plate')} read, {grew} positive.")
    if figures.plates_overdue:
        verb = "is" if figures.plates_overdue == 1 else "are"
        said.append(f"{capital(counted(figures.plates_overdue, 'plate'))} {verb} overdue.")
    return said


def _worse(figures: Figures) -> list[str]:
    on = f" on {figures.worse_on}" if figures.worse_on else ""
    if not figures.worse:
        return [f"No point shows lasting evidence of getting worse{on}."]
    shown = [f"{each.name}{f' since {each.since}' if each.since else ''}" for each in figures.worse]
    more = len(shown) - 3
    names = "; ".join(shown[:3]) + (f"; and {more} more" if more > 0 else "")
    return [f"Getting worse by lasting evidence{on}: {names}."]


def _money(figures: Figures) -> list[str]:
    if figures.money is None:
        return []
    said = f"Cleaning cost {figures.money.words}, over {counted(figures.money.cleans, 'clean')}"
    if figures.money_before is not None:
        said += f"; {figures.money_before.words} in {figures.before_words}"
    return [said + "."]


def paragraph(sentences: Iterable[str]) -> str:
    return " ".join(sentences)
