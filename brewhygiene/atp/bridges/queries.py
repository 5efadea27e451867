"""Reads of the pages of bridge studies."""

import dataclasses
from collections.abc import Sequence
from datetime import date

from django.db.models import Count, F, Q, QuerySet

from brewhygiene.atp.models.bridges import Bridge, BridgePair
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.quantities.parsing import parse_row

USED = Q(
    pairs__reference_rlu__isnull=False, pairs__new_rlu__isnull=False, pairs__left_out_reason=""
)


@dataclasses.dataclass(frozen=True)
class Pairs:
    """The pairs of a study: used, incomplete and excluded, each in the order of recording."""

    used: Sequence[BridgePair]
    incomplete: Sequence[BridgePair]
    excluded: Sequence[BridgePair]

    @property
    def reference_rlu(self) -> list[int]:
        """RLU of the reference scale, of the pairs that are used."""
        return [pair.reference_rlu for pair in self.used if pair.reference_rlu is not None]

    @property
    def new_rlu(self) -> list[int]:
        """RLU of the new scale, of the pairs that are used."""
        return [pair.new_rlu for pair in self.used if pair.new_rlu is not None]


def named_bridges() -> QuerySet[Bridge]:
    """Studies with what names them. 1 query."""
    return Bridge.objects.select_related(
        "reference_meter",
        "reference_atp_test",
        "new_meter",
        "new_atp_test",
        "opened_by",
        "approval",
    )


def bridges_listed() -> QuerySet[Bridge]:
    """Every study with ``used_count``, open ones first. 1 query, whatever their number."""
    return (
        named_bridges()
        .annotate(used_count=Count("pairs", filter=USED))
        .order_by(F("retired_at").asc(nulls_first=True), "-opened_at", "-pk")
    )


def sort_pairs(bridge: Bridge) -> Pairs:
    """The pairs of a study. 1 query."""
    every = list(
        BridgePair.objects.filter(bridge=bridge)
        .select_related("point__vessel", "recorded_by")
        .order_by("pk")
    )
    rest = [pair for pair in every if not pair.left_out_reason]
    return Pairs(
        used=[p for p in rest if p.reference_rlu is not None and p.new_rlu is not None],
        incomplete=[pair for pair in rest if pair.reference_rlu is None or pair.new_rlu is None],
        excluded=[pair for pair in every if pair.left_out_reason],
    )


def latest_pairs(bridge: Bridge, *, shown: int = 5) -> list[BridgePair]:
    """The last pairs of a study, the newest first. 1 query."""
    return list(
        BridgePair.objects.filter(bridge=bridge)
        .select_related("point__vessel")
        .order_by("-pk")[:shown]
    )


def limits_to_convert(bridge: Bridge, *, today: date) -> list[LimitSet]:
    """The limits in force on the reference scale, those for all points first. 1 query."""
    return list(
        LimitSet.objects.filter(
            Q(valid_until__isnull=True) | Q(valid_until__gte=today),
            meter_id=bridge.reference_meter_id,
            atp_test_id=bridge.reference_atp_test_id,
            approved_at__isnull=False,
            retired_at__isnull=True,
        )
        .select_related("point__vessel")
        .order_by(F("point_id").asc(nulls_first=True))
    )


def limits_from(bridge: Bridge) -> list[LimitSet]:
    """The limits proposed from a study, the newest first. 1 query."""
    return list(
        bridge.limits.select_related("meter", "atp_test", "point__vessel", "approval").order_by(
            "-pk"
        )
    )


def points_for(bridge: Bridge) -> list[SamplingPoint]:
    """The points in use that both ATP tests of a study suit, by vessel. 1 query."""
    return list(
        SamplingPoint.objects.filter(active=True, sample_kind=bridge.reference_atp_test.sample_kind)
        .select_related("vessel")
        .order_by("vessel__order", "vessel__sort_key", "order", "id")
    )


def study_for(*, meter_pk: str, atp_test_pk: str) -> Bridge | None:
    """The open study with this new scale, or ``None``. 1 query at most.

    The numbers are as an address gave them.
    """
    meter, atp_test = parse_row(meter_pk), parse_row(atp_test_pk)
    if meter is None or atp_test is None:
        return None
    return Bridge.objects.filter(
        new_meter=meter,
        new_atp_test=atp_test,
        approved_at__isnull=True,
        retired_at__isnull=True,
    ).first()


def same_scales(*, first: tuple[Meter, AtpTest], second: tuple[Meter, AtpTest]) -> QuerySet[Bridge]:
    """Studies of the same two scales, in either direction, that are not retired. 1 query."""
    (a, b), (c, d) = first, second
    return Bridge.objects.filter(
        Q(reference_meter=a, reference_atp_test=b, new_meter=c, new_atp_test=d)
        | Q(reference_meter=c, reference_atp_test=d, new_meter=a, new_atp_test=b),
        retired_at__isnull=True,
    )
