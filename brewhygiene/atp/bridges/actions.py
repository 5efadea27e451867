"""Actions of bridge studies: start, pairs, limits proposed from them, approval."""

import dataclasses
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from brewhygiene.atp.bridges.queries import limits_to_convert, same_scales, sort_pairs
from brewhygiene.atp.bridges.study import CAREFUL, LINE, fit_snapshot, limit_snapshot
from brewhygiene.atp.limits.days import check_limit_days
from brewhygiene.atp.models.bridges import Bridge, BridgePair
from brewhygiene.atp.models.limits import LimitSet, LimitSource
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.rlu import check_rlu
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.refusals import Refusal
from brewhygiene.science.agreement.bridging import BridgeFit, bridged_limits, fit_bridge
from brewhygiene.science.errors import OutOfRange
from brewhygiene.turnarounds.actions import check_when

MOST_PAIRS = 1000


@dataclasses.dataclass(frozen=True)
class PairValues:
    """One place read with both scales, each in RLU of its own; a side may be missing."""

    reference_rlu: int | None
    new_rlu: int | None
    point: SamplingPoint | None = None
    note: str = ""


def _scale(meter: Meter, atp_test: AtpTest) -> str:
    return f"{meter.name} with {atp_test.name}"


def _lock(bridge: Bridge) -> Bridge:
    return (
        Bridge.objects.select_for_update(of=("self",))
        .select_related("reference_meter", "reference_atp_test", "new_meter", "new_atp_test")
        .get(pk=bridge.pk)
    )


def _lock_open(bridge: Bridge) -> Bridge:
    """A study whose pairs may still change."""
    bridge = _lock(bridge)
    if bridge.retired_at is not None:
        raise Refusal("This study is retired. Start a new one.", code="retired")
    if bridge.approved_at is not None:
        raise Refusal(
            "This bridge is approved, so its pairs are fixed. Retire it and start a new study.",
            code="approved",
        )
    return bridge


@action("open bridge study")
def open_bridge(
    *,
    by: Actor,
    reference_meter: Meter,
    reference_atp_test: AtpTest,
    new_meter: Meter,
    new_atp_test: AtpTest,
) -> Recorded[Bridge]:
    """Start a study of two scales of one sample kind; a scale is a meter with an ATP test."""
    user = require(by, "approve_limits")
    if (reference_meter, reference_atp_test) == (new_meter, new_atp_test):
        raise Refusal(
            "Both scales are the same. Choose another meter or another ATP test.",
            field="new_atp_test",
            code="same_scale",
        )
    if reference_atp_test.sample_kind != new_atp_test.sample_kind:
        raise Refusal(
            f"{reference_atp_test.name} is a {reference_atp_test.kind} and {new_atp_test.name} a "
            f"{new_atp_test.kind}. Choose two ATP tests of the same kind.",
            field="new_atp_test",
            code="sample_kinds_differ",
        )
    there = same_scales(
        first=(reference_meter, reference_atp_test), second=(new_meter, new_atp_test)
    ).first()
    if there is not None:
        raise Refusal(
            "There is already a study of these two scales. Add pairs to it, or retire it first.",
            code="there_already",
        )
    bridge = Bridge.objects.create(
        reference_meter=reference_meter,
        reference_atp_test=reference_atp_test,
        new_meter=new_meter,
        new_atp_test=new_atp_test,
        opened_at=by.now,
        opened_by=user,
    )
    return Recorded(
        bridge,
        {
            "reference": _scale(reference_meter, reference_atp_test),
            "new": _scale(new_meter, new_atp_test),
        },
        aggregate=bridge,
    )


def _check_pair(bridge: Bridge, values: PairValues) -> None:
    if values.reference_rlu is None and values.new_rlu is None:
        raise Refusal("Enter at least one of the two readings.", field="reference_rlu")
    for field, rlu in (("reference_rlu", values.reference_rlu), ("new_rlu", values.new_rlu)):
        if rlu is not None:
            check_rlu(rlu, field=field)
    kind = bridge.reference_atp_test.sample_kind
    if values.point is not None and values.point.sample_kind != kind:
        raise Refusal(
            f"{values.point} is a {values.point.sample_kind} point. Choose a {kind} point.",
            field="point",
        )


def _write_pairs(
    *,
    by: Actor,
    bridge: Bridge,
    rows: Sequence[PairValues],
    taken_at: datetime | None,
    source: ValueSource,
) -> list[BridgePair]:
    taken_at = check_when(taken_at or by.now, by=by, field="taken_at")
    for values in rows:
        _check_pair(bridge, values)
    if bridge.pairs.count() + len(rows) > MOST_PAIRS:
        raise Refusal(f"A study contains at most {MOST_PAIRS} pairs.", field="pairs")
    return [
        BridgePair.objects.create(
            bridge=bridge,
            point=values.point,
            reference_rlu=values.reference_rlu,
            new_rlu=values.new_rlu,
            source=source,
            taken_at=taken_at,
            recorded_by=by.person,
            note=values.note.strip()[:200],
        )
        for values in rows
    ]


@action("add bridge pair")
def add_pair(
    *, by: Actor, bridge: Bridge, values: PairValues, taken_at: datetime | None = None
) -> Recorded[BridgePair]:
    """Record one place read with both scales; a pair with one reading is not used."""
    require(by, "work_cellar")
    bridge = _lock_open(bridge)
    (pair,) = _write_pairs(
        by=by, bridge=bridge, rows=[values], taken_at=taken_at, source=ValueSource.READ
    )
    return Recorded(
        pair,
        {
            "reference_rlu": values.reference_rlu,
            "new_rlu": values.new_rlu,
            "point": str(values.point) if values.point else None,
            "taken_at": pair.taken_at,
            "source": pair.source,
            "note": pair.note,
        },
        aggregate=bridge,
    )


@action("add bridge pairs")
def add_pairs(
    *,
    by: Actor,
    bridge: Bridge,
    rows: Sequence[PairValues],
    taken_at: datetime | None = None,
) -> Recorded[Bridge]:
    """Record many pairs at once: all of them, or none."""
    require(by, "work_cellar")
    bridge = _lock_open(bridge)
    if not rows:
        raise Refusal("Enter at least one pair.", field="pairs")
    pairs = _write_pairs(
        by=by, bridge=bridge, rows=rows, taken_at=taken_at, source=ValueSource.IMPORTED
    )
    return Recorded(
        bridge,
        {
            "pairs": [[pair.pk, pair.reference_rlu, pair.new_rlu] for pair in pairs],
            "source": pairs[0].source,
            "taken_at": pairs[0].taken_at,
        },
        aggregate=bridge,
    )


def _pair_of(pair: BridgePair) -> tuple[BridgePair, Bridge]:
    bridge = _lock_open(Bridge(pk=pair.bridge_id))
    return BridgePair.objects.select_for_update().get(pk=pair.pk), bridge


@action("exclude bridge pair")
def exclude_pair(*, by: Actor, pair: BridgePair, reason: str) -> Recorded[BridgePair]:
    """Exclude a pair from the fit, with the reason; it stays in the study."""
    require(by, "approve_limits")
    pair, bridge = _pair_of(pair)
    if pair.left_out_reason:
        raise Refusal("This pair is already excluded.", code="excluded")
    if not reason.strip():
        raise Refusal("Enter a reason. A poor fit alone is not a reason.", field="reason")
    pair.left_out_reason = reason.strip()[:200]
    pair.save(update_fields=["left_out_reason"])
    return Recorded(pair, {"pair": str(pair), "reason": pair.left_out_reason}, aggregate=bridge)


@action("include bridge pair")
def include_pair(*, by: Actor, pair: BridgePair) -> Recorded[BridgePair]:
    """Include an excluded pair again."""
    require(by, "approve_limits")
    pair, bridge = _pair_of(pair)
    if not pair.left_out_reason:
        raise Refusal("This pair is not excluded.", code="not_excluded")
    was = pair.left_out_reason
    pair.left_out_reason = ""
    pair.save(update_fields=["left_out_reason"])
    return Recorded(pair, {"pair": str(pair), "was_excluded": was}, aggregate=bridge)


def _fit(bridge: Bridge) -> tuple[BridgeFit, dict[str, Any]]:
    """The line of a study's pairs and its stored form, or a refusal with the reason."""
    pairs = sort_pairs(bridge)
    try:
        fit = fit_bridge(reference_rlu=pairs.reference_rlu, new_rlu=pairs.new_rlu)
    except OutOfRange as refused:
        raise Refusal(str(refused), code="no_bridge") from refused
    return fit, fit_snapshot(fit, pairs)


@action("propose bridged limits")
def propose_bridged_limits(
    *,
    by: Actor,
    bridge: Bridge,
    reference_limits: LimitSet,
    review_on: date,
    choice: str = LINE,
    valid_until: date | None = None,
) -> Recorded[LimitSet]:
    """Propose limits of the new scale from those in force on the reference scale.

    ``choice`` takes the line's value, or the lower end of its interval ("careful"). They
    apply once a head brewer approves them.
    """
    user = require(by, "approve_limits")
    bridge = _lock(bridge)
    if bridge.retired_at is not None:
        raise Refusal("This study is retired. Start a new one.", code="retired")
    today = brewery_day(by.now, Brewery.current())
    if reference_limits.pk not in {one.pk for one in limits_to_convert(bridge, today=today)}:
        raise Refusal("These limits are not in force on the reference scale.", code="not_in_force")
    if choice not in (LINE, CAREFUL):
        raise Refusal("Choose which limits to propose.", field="choice")
    check_limit_days(today=today, review_on=review_on, valid_until=valid_until)
    fit, figures = _fit(bridge)
    try:
        found = bridged_limits(
            fit=fit, alert_rlu=reference_limits.alert_rlu, action_rlu=reference_limits.action_rlu
        )
    except OutOfRange as refused:
        raise Refusal(str(refused), code="no_bridge") from refused
    careful = choice == CAREFUL
    figures |= {
        "choice": choice,
        "reference_limits": reference_limits.pk,
        "alert": limit_snapshot(found.alert),
        "action": limit_snapshot(found.action),
    }
    limits = LimitSet.objects.create(
        meter=bridge.new_meter,
        atp_test=bridge.new_atp_test,
        sample_kind=bridge.new_atp_test.sample_kind,
        point=reference_limits.point,
        moment=reference_limits.moment,
        vessel_kind=reference_limits.vessel_kind,
        alert_rlu=found.alert.careful_rlu if careful else found.alert.whole_rlu,
        action_rlu=found.action.careful_rlu if careful else found.action.whole_rlu,
        source=LimitSource.BRIDGE,
        source_note=(
            f"{fit.pairs} pairs with {_scale(bridge.reference_meter, bridge.reference_atp_test)}"
            f": {reference_limits.alert_rlu}/{reference_limits.action_rlu} RLU there"
            f"{', lower end of the interval' if careful else ''}"
        )[:200],
        proposed_at=by.now,
        proposed_by=user,
        review_on=review_on,
        valid_until=valid_until,
        bridge=bridge,
        figures=figures,
    )
    return Recorded(
        limits,
        {
            "limits": str(limits),
            "point": str(limits.point) if limits.point else "all points",
            "from": str(reference_limits),
            "figures": figures,
            "review_on": review_on,
            "valid_until": valid_until,
        },
        aggregate=bridge,
    )


@action("approve bridge")
def approve_bridge(*, by: Actor, bridge: Bridge, password: str) -> Recorded[Bridge]:
    """Sign the line between two scales, so that charts may convert readings.

    Its pairs are fixed from then on. It sets no limits: those are proposed and signed separately.
    """
    require(by, "approve_limits")
    bridge = _lock_open(bridge)
    fit, figures = _fit(bridge)
    bridge.approval = sign(
        by=by, password=password, meaning=f"Approved the bridge from {bridge}"[:200]
    )
    bridge.log_slope, bridge.log_intercept = fit.line.slope, fit.line.intercept
    bridge.figures = figures
    bridge.approved_at = by.now
    bridge.save(update_fields=["approval", "log_slope", "log_intercept", "figures", "approved_at"])
    return Recorded(bridge, {"bridge": str(bridge), "figures": figures}, aggregate=bridge)


@action("retire bridge")
def retire_bridge(*, by: Actor, bridge: Bridge, password: str) -> Recorded[Bridge]:
    """Retire a bridge or a study; its pairs and limits stay on record."""
    require(by, "approve_limits")
    bridge = _lock(bridge)
    if bridge.retired_at is not None:
        raise Refusal("This study is already retired.", code="retired")
    sign(by=by, password=password, meaning=f"Retired the bridge from {bridge}"[:200])
    bridge.retired_at = by.now
    bridge.save(update_fields=["retired_at"])
    return Recorded(
        bridge, {"bridge": str(bridge), "was_approved": bridge.approved_at}, aggregate=bridge
    )
