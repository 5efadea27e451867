"""The study of pairs: agreement, lines by two methods, and the converted limits.

No query here: the pairs and the limits come from ``bridges.queries``.
"""

import dataclasses
from collections.abc import Callable, Sequence
from typing import Any

from brewhygiene.atp.bridges.queries import Pairs
from brewhygiene.atp.models.bridges import BridgePair
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.science.agreement.bland_altman import (
    Agreement,
    Ratios,
    bland_altman,
    ratios_of,
)
from brewhygiene.science.agreement.bridging import (
    BridgedLimit,
    BridgedLimits,
    BridgeFit,
    NoBridge,
    bridged_limits,
    fit_bridge,
)
from brewhygiene.science.agreement.deming import DemingFit, deming
from brewhygiene.science.agreement.paired import log_of_rlu
from brewhygiene.science.agreement.passing_bablok import PassingBablokFit, passing_bablok
from brewhygiene.science.errors import OutOfRange, TooFewReadings

LINE, CAREFUL = "line", "careful"


@dataclasses.dataclass(frozen=True)
class MethodRow:
    """One method on RLU or on logs; ``fit`` is ``None`` where ``why_not`` says why."""

    name: str
    on: str
    fit: DemingFit | PassingBablokFit | None
    why_not: str = ""


@dataclasses.dataclass(frozen=True)
class Converted:
    """One set of the reference scale's limits, converted to the new scale, or why not."""

    limits: LimitSet
    found: BridgedLimits | None
    why_not: str = ""
    doubtful: BridgePair | None = None


@dataclasses.dataclass(frozen=True)
class Study:
    """All that a study's page shows of its pairs."""

    pairs: Pairs
    fit: BridgeFit | None
    why_not: str
    doubtful: BridgePair | None  # the pair that the refusal names
    raw: Agreement | None
    logs: Agreement | None
    ratios: Ratios | None
    methods: Sequence[MethodRow]
    converted: Sequence[Converted]

    @property
    def raw_gap(self) -> float:
        """The mean difference of the two in RLU, without its sign."""
        return 0.0 if self.raw is None else abs(self.raw.bias)

    @property
    def bends_with_level(self) -> bool:
        """Whether the ratio of the two changes clearly with the level."""
        return self.logs is not None and self.logs.trend is not None and abs(self.logs.trend) > 0.5


def _or_none(call: Callable[[], Any]) -> tuple[Any, str]:
    try:
        return call(), ""
    except (OutOfRange, TooFewReadings) as refused:
        return None, str(refused)


def study_of(pairs: Pairs, limits: Sequence[LimitSet]) -> Study:
    """Everything calculated from the pairs, and each set of ``limits`` converted."""
    reference, new = pairs.reference_rlu, pairs.new_rlu
    reference_logs = [log_of_rlu(rlu) for rlu in reference]
    new_logs = [log_of_rlu(rlu) for rlu in new]
    doubtful = None
    try:
        fit, why_not = fit_bridge(reference_rlu=reference, new_rlu=new), ""
    except OutOfRange as refused:
        fit, why_not = None, str(refused)
        doubtful = _doubtful(pairs, refused)
    raw, _ = _or_none(lambda: bland_altman(first=new, second=reference))
    logs, _ = _or_none(lambda: bland_altman(first=new_logs, second=reference_logs))
    ratios, _ = _or_none(lambda: ratios_of(logs)) if logs is not None else (None, "")
    methods = []
    for on, x, y in (
        ("RLU", reference, new),
        ("log10(RLU + 1)", reference_logs, new_logs),
    ):
        for name, call in (("Deming", deming), ("Passing–Bablok", passing_bablok)):
            found, words = _or_none(lambda call=call, x=x, y=y: call(x=x, y=y))  # type: ignore[misc]
            methods.append(MethodRow(name=name, on=on, fit=found, why_not=words))
    return Study(
        pairs=pairs,
        fit=fit,
        why_not=why_not,
        doubtful=doubtful,
        raw=raw,
        logs=logs,
        ratios=ratios,
        methods=methods,
        converted=[convert(fit, each, pairs) for each in limits] if fit is not None else [],
    )


def _doubtful(pairs: Pairs, refused: OutOfRange) -> BridgePair | None:
    """The pair that a refusal names."""
    place = refused.pair if isinstance(refused, NoBridge) else None
    return None if place is None else pairs.used[place]


def convert(fit: BridgeFit, limits: LimitSet, pairs: Pairs) -> Converted:
    """One set of limits converted by the line, or why not."""
    try:
        found = bridged_limits(fit=fit, alert_rlu=limits.alert_rlu, action_rlu=limits.action_rlu)
    except OutOfRange as refused:
        return Converted(limits, None, str(refused), _doubtful(pairs, refused))
    return Converted(limits, found)


def fit_snapshot(fit: BridgeFit, pairs: Pairs) -> dict[str, Any]:
    """A fit as it is stored with limits or an approval."""
    return {
        "method": "bridge",
        "pairs": fit.pairs,
        "pair_ids": [pair.pk for pair in pairs.used],
        "floor_rlu": fit.floor_rlu,
        "slope": fit.line.slope,
        "slope_interval": list(fit.line.ci_slope),
        "intercept": fit.line.intercept,
        "intercept_interval": list(fit.line.ci_intercept),
        "scatter": fit.scatter,
        "passing_bablok": {
            "slope": fit.check.slope,
            "intercept": fit.check.intercept,
            "linearity_p": fit.check.linearity_p,
        },
    }


def limit_snapshot(limit: BridgedLimit) -> dict[str, float]:
    """A converted limit as it is stored, in RLU."""
    return dataclasses.asdict(limit)
