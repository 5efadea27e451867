"""The study of a baseline: distribution, limits by each method, and what to check first."""

import dataclasses
from datetime import datetime
from typing import Any

from brewhygiene.atp.baselines.advice import Advice, advice_of
from brewhygiene.atp.baselines.queries import (
    History,
    Members,
    history_of,
    members_of,
    turnarounds_with_growth,
)
from brewhygiene.atp.baselines.vessels import Vessels, vessels_of
from brewhygiene.atp.baselines.words import ABOUT, TITLES, simulated_words
from brewhygiene.atp.models.baselines import Baseline
from brewhygiene.atp.models.readings import Result
from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.limits.asked import Asked
from brewhygiene.science.limits.distribution import Distribution, distribution_of
from brewhygiene.science.limits.drift import Drift, drift_of
from brewhygiene.science.limits.effect import Effect, Without, effect_of, without
from brewhygiene.science.limits.groups.pooling import Pooling, pooling_of
from brewhygiene.science.limits.outliers import far_out
from brewhygiene.science.limits.sample import Sample, log_rlu, sample_of
from brewhygiene.science.limits.side_by_side import Level, Method, best_of, side_by_side


@dataclasses.dataclass(frozen=True)
class Row:
    """One method in the table: its limits, their effect on past cleans, and without outliers."""

    method: Method
    effect: Effect | None
    recommended: bool  # the usable method to take, where no serious advice stands against it
    without: Without | None

    @property
    def title(self) -> str:
        return TITLES[self.method.code]

    @property
    def about(self) -> str:
        return ABOUT[self.method.code]

    @property
    def simulated(self) -> str:
        return simulated_words(self.method.code)


@dataclasses.dataclass(frozen=True)
class Study:
    """All that a baseline's page shows. Where ``why_none`` says why, nothing was calculated."""

    baseline: Baseline
    asked: Asked
    members: Members
    why_none: str = ""
    distribution: Distribution | None = None
    rows: tuple[Row, ...] = ()
    pooling: Pooling | None = None
    vessels: Vessels | None = None  # of a baseline for a kind of vessel
    drift: Drift | None = None
    history: History | None = None
    outliers: tuple[Result, ...] = ()
    with_growth: frozenset[int] = frozenset()  # turnarounds with a positive plate
    advice: tuple[Advice, ...] = ()

    @property
    def ready(self) -> bool:
        """Whether no serious advice stands against limits from these readings."""
        return not any(each.serious for each in self.advice)

    @property
    def recommended(self) -> Row | None:
        """The row to take, where no serious advice stands against it."""
        return next((row for row in self.rows if row.recommended and self.ready), None)


def _drift(counted: list[Result]) -> Drift | None:
    first = counted[0].taken_at
    try:
        return drift_of(
            days=[(result.taken_at - first).total_seconds() / 86_400 for result in counted],
            logs=[log_rlu(result.rlu) for result in counted],
        )
    except (OutOfRange, TooFewReadings):
        return None


def _pooling(counted: list[Result], vessels: Vessels | None) -> Pooling | None:
    """The points beside each other; none where the vessels have one each, and say the same."""
    if vessels is not None and len({r.point_id for r in counted}) == len(vessels.names):
        return None
    groups: dict[str, list[int]] = {}
    for result in counted:
        groups.setdefault(str(result.point), []).append(result.rlu)
    return pooling_of(groups) if groups else None


def _rows(
    sample: Sample, asked: Asked, outliers: tuple[int, ...], baseline: Baseline, now: datetime
) -> tuple[tuple[Row, ...], History]:
    methods = side_by_side(sample, asked)
    best = best_of(methods)
    alerts = [method.alert.rlu for method in methods if method.alert]
    history = history_of(baseline, above_rlu=min(alerts, default=None), now=now)
    by_code = (
        {each.code: each for each in without(sample, outliers, asked, methods=methods)}
        if outliers
        else {}
    )
    rows = []
    for method in methods:
        effect = None
        if method.alert and method.action and history.cleans:
            effect = effect_of(
                alert_rlu=method.alert.rlu,
                action_rlu=method.action.rlu,
                cleans=history.cleans,
                positive=history.positive,
                high=history.high,
            )
        rows.append(Row(method, effect, method is best, by_code.get(method.code)))
    return tuple(rows), history


def study_of(baseline: Baseline, *, asked: Asked, now: datetime) -> Study:
    """The study of a baseline as its readings stand ``now``. 6 queries where it is prefetched.

    1 more for a baseline of a kind of vessel.
    """
    members = members_of(baseline)
    counted = members.counted
    with_growth = frozenset(turnarounds_with_growth(counted))
    study = Study(baseline=baseline, asked=asked, members=members, with_growth=with_growth)
    try:
        sample = sample_of(
            [result.rlu for result in counted],
            scales=[f"{result.meter}, {result.test_lot.atp_test}" for result in counted],
        )
    except (OutOfRange, TooFewReadings) as error:
        study = dataclasses.replace(study, why_none=str(error))
        return dataclasses.replace(study, advice=advice_of(study))
    outliers = far_out(sample)
    vessels = vessels_of(baseline, counted)
    rows, history = _rows(sample, asked, outliers, baseline, now)
    study = dataclasses.replace(
        study,
        distribution=distribution_of(sample),
        rows=rows,
        pooling=_pooling(counted, vessels),
        vessels=vessels,
        drift=_drift(counted),
        history=history,
        outliers=tuple(counted[place] for place in outliers),
    )
    return dataclasses.replace(study, advice=advice_of(study))


def _level(level: Level | None) -> dict[str, float] | None:
    if level is None:
        return None
    return {
        "rlu": level.rlu,
        "exact_rlu": round(level.exact_rlu, 3),
        "low_rlu": round(level.low_rlu, 3),
        "high_rlu": round(level.high_rlu, 3),
    }


def snapshot(study: Study, row: Row) -> dict[str, Any]:
    """The figures behind limits as they stood when proposed, to be kept with them."""
    method, asked = row.method, study.asked
    pooling, drift = study.pooling, study.drift
    figures = {
        "method": method.code,
        "title": row.title,
        "asked": {key: v for key, v in dataclasses.asdict(asked).items() if v is not None},
        "readings": len(study.members.counted),
        "kept_out": len(study.members.excluded),
        "since": study.baseline.since.isoformat(),
        "until": study.baseline.until.isoformat(),
        "alert": _level(method.alert),
        "action": _level(method.action),
        "fitted": {name: round(value, 6) for name, value in method.figures},
        "fit_p": method.goodness.p if method.goodness else None,
        "cautions": list(method.cautions),
        "history": dataclasses.asdict(row.effect) if row.effect else None,
        "pooling": pooling.answer if pooling else None,
        "pooling_p": [pooling.level_p, pooling.spread_p] if pooling else None,
        "drift_p": drift.trend_p if drift else None,
        "far_out_rlu": [result.rlu for result in study.outliers],
    }
    return figures | (_of_vessels(study.vessels) if study.vessels is not None else {})


def _of_vessels(vessels: Vessels) -> dict[str, Any]:
    """How far the vessels differed, for limits of their kind."""
    pooling, between = vessels.pooling, vessels.between
    return {
        "vessels": {group.name: group.readings for group in pooling.groups},
        "vessels_answer": pooling.answer,
        "vessels_p": [pooling.level_p, pooling.spread_p],
        "between_share": round(between.share, 6) if between is not None else None,
        "between_factor": round(between.factor_between, 6) if between is not None else None,
        "within_factor": round(between.factor_within, 6) if between is not None else None,
        "worth_readings": round(between.worth, 3) if between is not None else None,
        "not_read": [vessel.name for vessel in vessels.not_read],
    }
