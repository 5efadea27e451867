"""What the server has where a tablet's form was not taken, or was judged otherwise."""

import dataclasses
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.urls import Resolver404, resolve

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.models import StepRecord, Turnaround
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.queries import cleans_with_records


@dataclasses.dataclass(frozen=True)
class Fact:
    """One thing that is on record, since when."""

    words: str
    since: datetime


@dataclasses.dataclass(frozen=True)
class Held:
    """What is on record of what a form was about; whether it may still be recorded as late."""

    facts: list[Fact]
    may_be_late: bool = False


def held_about(address: str, *, typed_at: datetime) -> Held:
    """By the address of the form. 9 queries at most; nothing of an address that is none of them."""
    try:
        found = resolve(address)
    except Resolver404:
        return Held([])
    given = found.kwargs
    if found.namespace == "turnarounds" and "step_pk" in given:
        return _of_step(given, reading=found.view_name == "turnarounds:read", typed_at=typed_at)
    if found.view_name == "turnarounds:dispose":
        deviation = (
            Deviation.objects.select_related("record", "disposed_by")
            .filter(pk=given["pk"], disposed_at__isnull=False)
            .first()
        )
        record = (
            deviation.record
            if deviation is not None
            else StepRecord.objects.filter(deviations=given["pk"]).first()
        )
        if record is None:
            return Held([])
        of_step = _of_step({"pk": record.clean_id, "step_pk": record.step_id}, typed_at=typed_at)
        decided = [] if deviation is None else [_decided(deviation)]
        return Held([*decided, *of_step.facts])
    if found.view_name == "atp:sample":
        turnaround = Turnaround.objects.filter(pk=given["pk"]).first()
        if turnaround is None:
            return Held([])
        return Held([*_limits(typed_at), *_of_turnaround(turnaround)])
    return Held([])


def _decided(deviation: Deviation) -> Fact:
    assert deviation.disposed_at is not None
    return Fact(f"{deviation.disposed_by}: {deviation.decided_words}", deviation.disposed_at)


def _of_step(given: dict[str, Any], *, typed_at: datetime, reading: bool = False) -> Held:
    clean = cleans_with_records().filter(pk=given["pk"]).first()
    if clean is None:
        return Held([])
    attempts = [one for one in clean.step_records.all() if one.step_id == given["step_pk"]]
    facts = []
    for one in attempts:
        if one.ended_at is None:
            facts.append(Fact(f"{one.step} runs, started by {one.started_by}", one.started_at))
        else:
            facts.append(Fact(f"{one.step} ended by {one.ended_by}", one.ended_at))
    if clean.finished_at is not None:
        facts.append(Fact(f"Clean finished by {clean.finished_by}", clean.finished_at))
    if clean.stopped_at is not None:
        facts.append(Fact(f"Clean stopped: {clean.stop_reason}", clean.stopped_at))
    since = list(_of_turnaround(clean.turnaround))
    within = any(
        one.started_at <= typed_at and (one.ended_at is None or typed_at <= one.ended_at)
        for one in attempts
    )
    return Held(
        [*facts, *since],
        may_be_late=reading and clean.finished_at is not None and not since and within,
    )


def _of_turnaround(turnaround: Turnaround) -> Iterator[Fact]:
    """What closed the way back: decisions, and what the vessel was filled with."""
    for decision in Decision.objects.filter(turnaround=turnaround).select_related("signature"):
        words = f"{decision.get_outcome_display()} signed by {decision.signature.printed_name}"
        yield Fact(f"{words[0].upper()}{words[1:]}", decision.decided_at)
    if turnaround.closed_at is not None:
        full = Turnaround.objects.select_related("vessel", "closing_fill__beer").get(
            pk=turnaround.pk
        )
        assert full.closing_fill is not None
        yield Fact(
            f"{full.vessel.name} filled with {full.closing_fill.words}", turnaround.closed_at
        )


def _limits(typed_at: datetime) -> Iterator[Fact]:
    """Limits that came into force since."""
    changed = LimitSet.objects.filter(approved_at__gt=typed_at).select_related("meter", "atp_test")
    for limits in changed.order_by("approved_at")[:10]:
        assert limits.approved_at is not None
        yield Fact(
            f"Limits of {limits.meter.name} with {limits.atp_test.name}: alert above "
            f"{limits.alert_rlu}, action above {limits.action_rlu} RLU",
            limits.approved_at,
        )
