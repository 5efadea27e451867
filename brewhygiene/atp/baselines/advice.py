"""What to check in a baseline before limits are proposed, and what to do about it."""

import dataclasses
from typing import TYPE_CHECKING

from brewhygiene.atp.baselines.words import TITLES, p_words, rlu_words
from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.quantities.style import digits
from brewhygiene.quantities.words import counted, percent
from brewhygiene.science.limits.drift import Drift
from brewhygiene.science.limits.groups.pooling import Pooling
from brewhygiene.science.limits.side_by_side import PERCENTILE, TOLERANCE

if TYPE_CHECKING:
    from brewhygiene.atp.baselines.study import Row, Study

FEW = 30
MANY_ZEROS = 0.5


@dataclasses.dataclass(frozen=True)
class Advice:
    """What was found, and what to do. ``serious``: to be solved before limits are recommended."""

    says: str
    do: str
    serious: bool = False


def advice_of(study: "Study") -> tuple[Advice, ...]:
    """What to know before limits are proposed, the most serious first."""
    found: list[Advice | None] = []
    if study.why_none:
        longer = "Choose a longer period or more points, or wait for more cleans."
        found.append(Advice(study.why_none, longer, serious=True))
    found.append(_not_clean(study.members.counted, study.with_growth))
    found.append(_mistakes(study.members.counted))
    if study.distribution is not None:
        found += [
            _outliers(study),
            _vessels(study),
            _pooled(study.pooling),
            _not_read(study),
            _drifted(study.drift),
            _few(study),
            _zeros(study),
        ]
    return tuple(each for each in found if each is not None)


def _not_clean(readings: list[Result], with_growth: frozenset[int]) -> Advice | None:
    over = sum(result.verdict == Verdict.ACTION for result in readings)
    plates = sum(result.turnaround_id in with_growth for result in readings)
    parts = []
    if over:
        parts.append(f"{counted(over, 'reading')} over the action limit of that day")
    if plates:
        parts.append(f"{counted(plates, 'reading')} of turnarounds with a positive plate")
    if not parts:
        return None
    return Advice(
        f"A baseline is for clean vessels, but this one contains {' and '.join(parts)}.",
        "Check each one below. Exclude those with a known cause.",
        serious=True,
    )


def _mistakes(readings: list[Result]) -> Advice | None:
    count = sum(result.suspected_slip for result in readings)
    if not count:
        return None
    return Advice(
        f"{counted(count, 'reading')} with a possible mistake, e.g. a touched tip.",
        "Exclude those that were mistakes.",
    )


def _effect_of_outliers(rows: tuple["Row", ...]) -> str:
    """The action limit that the outliers change most, with and without them."""
    most, words = 0.0, ""
    for row in rows:
        have, lack = row.without.action_rlu if row.without else (None, None)
        if have is None or lack is None or have / max(1, lack) <= most:
            continue
        most = have / max(1, lack)
        words = (
            f" The action limit by {TITLES[row.method.code]} is {digits(have, ',')} RLU with "
            f"and {digits(lack, ',')} RLU "
            "without."
        )
    return words


def _outliers(study: "Study") -> Advice | None:
    if not study.outliers or study.distribution is None:
        return None
    numbers = ", ".join(digits(result.rlu, ",") for result in study.outliers)
    many = len(study.outliers) > 1
    return Advice(
        (
            f"{len(study.outliers)} readings ({numbers} RLU) lie far above the rest and raise"
            if many
            else f"One reading ({numbers} RLU) lies far above the rest and raises"
        )
        + f" the limits. Half of all are at most {rlu_words(study.distribution.median_rlu)} RLU."
        + _effect_of_outliers(study.rows),
        "Find the cause. Exclude a reading with a cause. Without one it counts, because your "
        "cleans can do that.",
        serious=True,
    )


def _vessels(study: "Study") -> Advice | None:
    """Whether the vessels of a kind may share limits."""
    if study.vessels is None:
        return None
    pooling = study.vessels.pooling
    if pooling.answer == "one":
        return Advice(
            f"All readings are of {pooling.groups[0].name}, but these limits would judge "
            f"{study.baseline.where}.",
            "Add readings of another vessel, or start a baseline of its points alone.",
            serious=True,
        )
    return _pooled(pooling, many="vessels", one="vessel")


def _not_read(study: "Study") -> Advice | None:
    if study.vessels is None or not study.vessels.not_read:
        return None
    names = ", ".join(vessel.name for vessel in study.vessels.not_read)
    return Advice(
        f"No reading counts of {names}, which these limits would judge too.",
        "Read them before you propose, or give them limits of their own points.",
    )


def _pooled(pooling: Pooling | None, many: str = "points", one: str = "point") -> Advice | None:
    if pooling is None or pooling.answer in ("one", "may"):
        return None
    if pooling.answer == "few":
        return Advice(
            f"Too few readings a {one} to compare the {many} (at least 5 each).",
            f"Limits for all {many} assume that the {many} are alike. Add readings, or choose one "
            f"{one}.",
        )
    assert pooling.level_p is not None
    assert pooling.spread_p is not None
    how = []
    if pooling.level_p < 0.05:
        how.append(f"their levels differ (Kruskal–Wallis, {p_words(pooling.level_p)})")
    if pooling.spread_p < 0.05:
        how.append(f"their spreads differ (Brown–Forsythe, {p_words(pooling.spread_p)})")
    return Advice(
        f"The {many} should not share limits: {' and '.join(how)}. {pooling.highest.name} reads "
        f"highest, {pooling.lowest.name} lowest.",
        f"Start a separate baseline for each {one} that differs. Shared limits are too high for "
        f"the best {one} and too low for the worst.",
        serious=True,
    )


def _drifted(drift: Drift | None) -> Advice | None:
    if drift is None:
        return None
    if drift.moved:
        factor = drift.factor_per_30_days
        rose = factor >= 1
        return Advice(
            f"Readings {'rose' if rose else 'fell'} during the baseline, by a factor of about "
            f"{digits(factor if rose else 1 / factor, '.2g')} in 30 days (Mann–Kendall, "
            f"{p_words(drift.trend_p)}).",
            "Find what changed, and use the days after it. Otherwise the limits "
            f"{'allow a cellar that is getting worse' if rose else 'are too high'}.",
            serious=True,
        )
    if drift.in_spells:
        assert drift.runs_p is not None
        return Advice(
            f"Readings came in runs: {drift.longest_run} in a row on one side of the median "
            f"(runs test, {p_words(drift.runs_p)}).",
            "Check what changed between runs: a lot of tests or agent, a person, a point.",
        )
    return None


def _few(study: "Study") -> Advice | None:
    count = len(study.members.counted)
    tolerance = next(row.method for row in study.rows if row.method.code == TOLERANCE)
    percentile = next(row.method for row in study.rows if row.method.code == PERCENTILE)
    if count < FEW:
        return Advice(
            f"{count} readings are few, so the intervals are wide. The distribution-free bound "
            f"needs {tolerance.alert_needs.readings} for the alert level "
            f"({tolerance.alert_needs.more} more).",
            "You can propose limits now with an early review. Continue to collect readings.",
        )
    if tolerance.action_needs.more:
        short = percentile.action_needs
        also = f"A percentile needs {short.readings} ({short.more} more). " if short.more else ""
        return Advice(
            f"{count} readings are too few for an action limit without a distribution. {also}The "
            f"distribution-free bound needs {tolerance.action_needs.readings} "
            f"({tolerance.action_needs.more} more).",
            "The action limits below depend on a fitted distribution or on the highest readings. "
            "Review them as readings come in.",
        )
    return None


def _zeros(study: "Study") -> Advice | None:
    assert study.distribution is not None
    share = study.distribution.zero_share
    if share <= MANY_ZEROS:
        return None
    return Advice(
        f"{percent(share)} of the readings are 0 RLU. They do not show how far below 1 RLU the "
        "light was.",
        "Prefer the methods without logs: bound, percentile or counts.",
    )
