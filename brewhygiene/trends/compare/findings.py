"""What stands out among the turnarounds of a period, in plain words: what to do first."""

import dataclasses
from collections import Counter
from collections.abc import Sequence

from brewhygiene.quantities.style import digits
from brewhygiene.quantities.words import one_or_many, percent, percent_range
from brewhygiene.science.rates.odds import Effect, Regression
from brewhygiene.science.rates.pareto import Pareto
from brewhygiene.science.rates.weeks import BadWeek
from brewhygiene.trends.compare.figures import ratio_words
from brewhygiene.trends.compare.grouping import Group, Groups
from brewhygiene.trends.compare.queries import Unexplained
from brewhygiene.trends.turns.facts import TurnFact, Why
from brewhygiene.trends.words import listed, long_day_words

MOST_OF_A_KIND = 3
MANY_NOT_JUDGED = 0.1
# Where one looks first, by what stands out: the order of the trade, common practice, no source.
LOOK = {
    "Vessel": "Look at what all its points share: the spray device and its flow, the pump's "
    "setting, heat lost in it, soil dried on before the clean.",
    "Point": "Look there: the gasket, whether the valve is opened or pulsed during the clean, a "
    "dead leg, the shadow of the spray device.",
    "Regime": "Check that it is strong enough for what was in the vessel, and that its "
    "windows were met.",
    "Content before": "Check that the clean after it is strong enough, and how long the soil "
    "stood.",
    "Season": "Compare the water and how warm the solutions stayed in these months.",
}
LOOK_AT_A_WEEK = (
    "Look at what all vessels shared then: the solution and its titration, the water, the meter, "
    "the lot of ATP tests, a new version of the regime."
)
LOOK_AT_A_LOT = (
    "Check the strength of the solutions made from it, their titration, and its storage."
)


@dataclasses.dataclass(frozen=True)
class Finding:
    """One thing that stands out: what it is, what to do, and which part of the page shows it."""

    says: str
    do: str
    part: str


def look_for(factor: str) -> str:
    """What to look at first where a factor of the regression stands out."""
    return LOOK_AT_A_LOT if factor.startswith("Lot of ") else LOOK.get(factor, "")


def effect_words(effect: Effect) -> str:
    """One effect of the regression as a sentence."""
    words = (
        f"{effect.factor} {effect.level}: {effect.count} of {effect.number} not clean the first "
        f"time. With all else equal, its odds are {ratio_words(effect.odds_ratio)} times the "
        f"average (95 % interval {ratio_words(effect.low)} to {ratio_words(effect.high)})."
    )
    if effect.goes_with:
        words += (
            f" It nearly always came together with {listed(effect.goes_with)}, so that may be the "
            "cause instead."
        )
    return words


def findings(
    *,
    facts: Sequence[TurnFact],
    regression: Regression | None,
    vessels: Groups,
    points: Groups,
    weeks: Sequence[BadWeek],
    deviations: Pareto | None,
    causes: Pareto | None,
    unexplained: Unexplained,
) -> list[Finding]:
    """What stands out, what is most worth doing first."""
    found: list[Finding] = []
    worse = [e for e in regression.named if e.odds_ratio > 1] if regression else []
    found += [
        Finding(effect_words(effect), look_for(effect.factor), "together")
        for effect in worse[:MOST_OF_A_KIND]
    ]
    named = {effect.level for effect in worse if effect.factor == "Vessel"}
    found += [
        Finding(_group_finding(group), LOOK["Vessel"], "vessel")
        for group in vessels.worse
        if group.name not in named
    ][:MOST_OF_A_KIND]
    # Where several points of a vessel are worse, it is the vessel that has been named.
    of_vessel = Counter(group.vessel for group in points.worse)
    bad_vessels = named | {group.name for group in vessels.worse}
    found += [
        Finding(_group_finding(group), LOOK["Point"], "point")
        for group in points.worse
        if group.outside == -2 and (group.vessel not in bad_vessels or of_vessel[group.vessel] == 1)
    ][:MOST_OF_A_KIND]
    if weeks:
        found.append(
            Finding(
                "Far more turnarounds than usual were not clean the first time in the "
                f"week{'s' if len(weeks) > 1 else ''} from "
                + listed(
                    [
                        f"{long_day_words(week.monday)} ({week.count} of {week.number})"
                        for week in sorted(weeks[:MOST_OF_A_KIND], key=lambda week: week.monday)
                    ]
                )
                + ".",
                LOOK_AT_A_WEEK,
                "weeks",
            )
        )
    if deviations:
        first = deviations.bars[0]
        found.append(
            Finding(
                f"The most frequent deviation is “{first.name}”: {first.count} of "
                f"{deviations.total}.",
                "Correct its cause first.",
                "causes",
            )
        )
    if causes:
        first = causes.bars[0]
        found.append(
            Finding(
                f"The cause found most often is “{first.name.lower()}”: {first.count} of "
                f"{causes.total}.",
                "Add it to planned maintenance.",
                "causes",
            )
        )
    if unexplained.without_cause:
        found.append(
            Finding(
                f"{unexplained.without_cause} of {unexplained.over} turnarounds with a reading "
                f"over the action limit {one_or_many(unexplained.without_cause, 'has', 'have')} no "
                "cause recorded.",
                "Record what was found on the turnaround's page, even if it was nothing.",
                "causes",
            )
        )
    return [*found, *_not_judged(facts)]


def _group_finding(group: Group) -> str:
    assert group.rate is not None
    outside = f"{digits(99.8, 'g')} %" if group.outside == -2 else "95 %"
    return (
        f"{group.name}: clean the first time in {percent(group.rate.share)}, {group.clean} of "
        f"{group.judged} (95 % interval {percent_range(group.rate.low, group.rate.high)}). Worse "
        f"than the rest, outside the {outside} limits."
    )


def _not_judged(facts: Sequence[TurnFact]) -> list[Finding]:
    """Turnarounds that were cleaned but cannot be counted, where they are many."""
    cleaned = [fact for fact in facts if fact.why != Why.NOT_CLEANED]
    unsampled = sum(fact.why == Why.UNSAMPLED for fact in cleaned)
    unjudged = sum(fact.why == Why.UNJUDGED for fact in cleaned)
    if unsampled + unjudged <= MANY_NOT_JUDGED * len(cleaned):
        return []
    why = [
        words
        for number, words in (
            (unsampled, f"{unsampled} with a point that was not read"),
            (unjudged, f"{unjudged} with a reading that had no approved limits"),
        )
        if number
    ]
    return [
        Finding(
            f"{unsampled + unjudged} of {len(cleaned)} cleaned turnarounds are not judged: "
            f"{listed(why)}.",
            "Read every point required for release. Approve limits for the meter and ATP test in "
            "use.",
            "vessel",
        )
    ]
