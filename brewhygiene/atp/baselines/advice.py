"""What is amiss with a baseline, in plain words, and what to do about it."""

import dataclasses
from typing import TYPE_CHECKING

from brewhygiene.atp.baselines.words import TITLES, p_words, rlu_words
from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.science.limits.drift import Drift
from brewhygiene.science.limits.pooling import Pooling
from brewhygiene.science.limits.side_by_side import PERCENTILE, TOLERANCE

if TYPE_CHECKING:
    from brewhygiene.atp.baselines.study import Row, Study

FEW = 30
MANY_ZEROS = 0.5


@dataclasses.dataclass(frozen=True)
class Advice:
    """A sentence on what was found, and one on what to do.

    What is ``grave`` is to be settled before any of the limits is to be advised.
    """

    says: str
    do: str
    grave: bool = False


def _counted(count: int, thing: str) -> str:
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def advice_of(study: "Study") -> tuple[Advice, ...]:
    """What to know before limits are proposed, the gravest first."""
    found: list[Advice | None] = []
    if study.why_none:
        found.append(
            Advice(
                study.why_none,
                "Begin a baseline with a longer period or more points, or wait for more cleans.",
                grave=True,
            )
        )
    found.append(_not_clean(study.members.counted, study.grown))
    found.append(_slips(study.members.counted))
    if study.distribution is not None:
        found += [
            _far(study),
            _pooled(study.pooling),
            _drifted(study.drift),
            _few(study),
            _zeros(study),
        ]
    return tuple(each for each in found if each is not None)


def _not_clean(counted: list[Result], grown: frozenset[int]) -> Advice | None:
    over = sum(result.verdict == Verdict.ACTION for result in counted)
    plates = sum(result.turnaround_id in grown for result in counted)
    parts = []
    if over:
        parts.append(f"{_counted(over, 'reading')} over the action limit then in force")
    if plates:
        parts.append(f"{_counted(plates, 'reading')} of turnarounds with a positive plate")
    if not parts:
        return None
    return Advice(
        f"A baseline is of clean vessels, and this one holds {' and '.join(parts)}.",
        "Look at each below; where a cause was found, keep it out and name the cause.",
        grave=True,
    )


def _slips(counted: list[Result]) -> Advice | None:
    slips = sum(result.suspected_slip for result in counted)
    if not slips:
        return None
    return Advice(
        f"{_counted(slips, 'reading')} in it came with a suspected slip, such as a touched tip.",
        "Keep out those that were slips: they say nothing of the vessel.",
    )


def _moved(rows: tuple["Row", ...]) -> str:
    """The action limit that the far readings move most, with and without them."""
    most, words = 0.0, ""
    for row in rows:
        have, lack = row.without.action_rlu if row.without else (None, None)
        if have is None or lack is None or have / max(1, lack) <= most:
            continue
        most = have / max(1, lack)
        words = (
            f" The action limit by {TITLES[row.method.code]} is {have:,} RLU with and {lack:,} RLU "
            "without."
        )
    return words


def _far(study: "Study") -> Advice | None:
    if not study.far or study.distribution is None:
        return None
    numbers = ", ".join(f"{result.rlu:,}" for result in study.far)
    many = len(study.far) > 1
    return Advice(
        (
            f"{len(study.far)} readings ({numbers} RLU) lie far above the rest and stretch"
            if many
            else f"One reading ({numbers} RLU) lies far above the rest and stretches"
        )
        + f" the limits: half of all are at most {rlu_words(study.distribution.median_rlu)} RLU."
        + _moved(study.rows),
        "Find out what happened. With a cause, keep it out; without one, it belongs to what your "
        "cleans do, and the limits have to live with it.",
        grave=True,
    )


def _pooled(pooling: Pooling | None) -> Advice | None:
    if pooling is None or pooling.answer == "one":
        return None
    if pooling.answer == "few":
        return Advice(
            "Too few readings a point to tell whether the points are alike (5 each at least).",
            "Limits for all points take it on trust that they are. Take more, or one point only.",
        )
    if pooling.answer == "may":
        return None
    assert pooling.level_p is not None
    assert pooling.spread_p is not None
    how = []
    if pooling.level_p < 0.05:
        how.append(f"they do not lie alike (Kruskal–Wallis, {p_words(pooling.level_p)})")
    if pooling.spread_p < 0.05:
        how.append(f"they do not vary alike (Brown–Forsythe, {p_words(pooling.spread_p)})")
    return Advice(
        f"The points should not be pooled: {' and '.join(how)}. {pooling.highest.name} reads "
        f"highest, {pooling.lowest.name} lowest.",
        "Take a baseline for each point that stands apart, and give it limits of its own: one "
        "limit for all is too wide for the best and too tight for the worst.",
        grave=True,
    )


def _drifted(drift: Drift | None) -> Advice | None:
    if drift is None:
        return None
    if drift.moved:
        factor = drift.factor_per_30_days
        rose = factor >= 1
        return Advice(
            f"Readings {'rose' if rose else 'fell'} during the baseline, by a factor of about "
            f"{factor if rose else 1 / factor:.2g} in 30 days (Mann–Kendall, "
            f"{p_words(drift.trend_p)}).",
            "Something changed. Find it, and take the days after it; limits of a cellar that is "
            f"{'getting worse would let it get worse' if rose else 'still settling are too wide'}.",
            grave=True,
        )
    if drift.in_spells:
        assert drift.runs_p is not None
        return Advice(
            f"Readings came in spells: {drift.longest_run} in a row on one side of the median "
            f"(runs test, {p_words(drift.runs_p)}).",
            "Look at what changed between spells: a lot of sticks or agent, a person, a point.",
        )
    return None


def _few(study: "Study") -> Advice | None:
    count = len(study.members.counted)
    tolerance = next(row.method for row in study.rows if row.method.code == TOLERANCE)
    percentile = next(row.method for row in study.rows if row.method.code == PERCENTILE)
    if count < FEW:
        return Advice(
            f"{count} readings are few: see how wide the intervals are. What needs no "
            f"distribution takes {tolerance.alert_needs.readings} for the alert level "
            f"({tolerance.alert_needs.more} more).",
            "Propose limits if you need some now, with an early review, and go on collecting.",
        )
    if tolerance.action_needs.more:
        short = percentile.action_needs
        begun = (
            f"a percentile takes {short.readings} ({short.more} more) and " if short.more else ""
        )
        return Advice(
            f"{count} readings do not bound the action limit surely without a distribution: "
            f"{begun}a bound takes {tolerance.action_needs.readings} "
            f"({tolerance.action_needs.more} more).",
            "The action limits below lean on a fitted shape, or on the few highest readings. "
            "Review them as readings come in.",
        )
    return None


def _zeros(study: "Study") -> Advice | None:
    assert study.distribution is not None
    share = study.distribution.zero_share
    if share <= MANY_ZEROS:
        return None
    return Advice(
        f"{100 * share:.0f} % of the readings are 0 RLU. They are real, but they do not say how "
        "far below 1 RLU the light was.",
        "Lean on the methods that do not take their logs: bound, percentile, or counts.",
    )
