"""Reads of turnarounds that more than one caller needs."""

import dataclasses
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db.models import Exists, Max, OuterRef, Prefetch, Q, QuerySet
from django.utils import timezone

from brewhygiene.cellar.by_date import ByDate, within_of
from brewhygiene.cellar.models import Fill, HoldClock, Vessel
from brewhygiene.quantities.style import shown_moment
from brewhygiene.regimes.materials.labels import Labels
from brewhygiene.regimes.models import Agent, Quantity, RegimeVersion, Step, StepKind
from brewhygiene.regimes.proposal import Proposal, asks_of, fits, harm_of, propose, reminders_of
from brewhygiene.regimes.queries import current_versions
from brewhygiene.skids.models import Skid
from brewhygiene.skids.queries import only_skid, skids_in_use
from brewhygiene.turnarounds.advice.flow_need import LINES
from brewhygiene.turnarounds.models import (
    Clean,
    CleanPurpose,
    SafetyAcknowledgement,
    StepReading,
    StepRecord,
    Turnaround,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.models.entries import EntryPermit
from brewhygiene.turnarounds.models.starts import start_of


def cleans_with_records() -> QuerySet[Clean]:
    """Cleans with steps, windows, records, readings, losses of flow and deviations. 9 queries."""
    steps = Step.objects.select_related("agent").prefetch_related("windows")
    records = StepRecord.objects.select_related(
        "started_by", "ended_by", "extends", "skid", "hose", "solution__tank"
    ).prefetch_related(
        "flow_losses",
        Prefetch("readings", queryset=StepReading.objects.select_related("taken_by")),
        Prefetch("deviations", queryset=Deviation.objects.select_related("disposed_by")),
    )
    return Clean.objects.select_related(
        "turnaround__vessel",
        "turnaround__emptying__beer",
        "version__regime",
        "started_by",
        "finished_by",
        "entered_by",
        "skid",
        "hose",
    ).prefetch_related(
        Prefetch("version__steps", queryset=steps),
        Prefetch("step_records", queryset=records),
        Prefetch("acknowledgements", queryset=SafetyAcknowledgement.objects.select_related("user")),
    )


def running_clean(turnaround: Turnaround) -> Clean | None:
    """The clean that is on, with its records. At most 9 queries."""
    return (
        cleans_with_records()
        .filter(turnaround=turnaround, finished_at__isnull=True, stopped_at__isnull=True)
        .first()
    )


def open_permit(turnaround: Turnaround) -> EntryPermit | None:
    """The permit under which somebody may be inside the vessel. 1 query."""
    return EntryPermit.objects.filter(turnaround=turnaround, closed_at__isnull=True).first()


def permits_of(turnaround: Turnaround) -> list[EntryPermit]:
    """Every permit to enter the vessel, the oldest first. 1 query."""
    return list(turnaround.permits.select_related("signature", "closed_by").order_by("pk"))


def cleans_since(vessel: Vessel, kind: StepKind) -> int:
    """Finished cleans of a vessel since the last one that ran a step of ``kind``. 2 queries.

    A step that was left out did not run.
    """
    finished = Clean.objects.filter(
        turnaround__vessel=vessel, purpose=CleanPurpose.CLEAN, finished_at__isnull=False
    )
    last = (
        finished.filter(
            pk__in=StepRecord.objects.filter(
                step__kind=kind, left_out=False, ended_at__isnull=False
            ).values("clean")
        )
        .order_by("-finished_at")
        .values_list("finished_at", flat=True)
        .first()
    )
    return (finished.filter(finished_at__gt=last) if last else finished).count()


def by_date_of(vessels: Iterable[Vessel]) -> dict[int, ByDate]:
    """Those of vessels that are cleaned by date, with their last clean and acid, by vessel.

    1 query where there are any. A step that was left out did not run.
    """
    rules = {vessel.pk: within for vessel in vessels if (within := within_of(vessel))}
    if not rules:
        return {}
    acid = StepRecord.objects.filter(
        clean=OuterRef("pk"), step__kind=StepKind.ACID, left_out=False, ended_at__isnull=False
    )
    last = {
        vessel: (cleaned_at, acid_at)
        for vessel, cleaned_at, acid_at in Clean.objects.filter(
            turnaround__vessel__in=rules, purpose=CleanPurpose.CLEAN, finished_at__isnull=False
        )
        .order_by()
        .annotate(with_acid=Exists(acid))
        .values_list("turnaround__vessel")
        .annotate(
            cleaned_at=Max("finished_at"), acid_at=Max("finished_at", filter=Q(with_acid=True))
        )
    }
    return {pk: ByDate(within, *last.get(pk, (None, None))) for pk, within in rules.items()}


def _acid_by_date(turnaround: Turnaround) -> str:
    """Why the next clean needs acid by date, or ''. 1 query for a vessel cleaned by date."""
    found = by_date_of([turnaround.vessel]).get(turnaround.vessel_id)
    if found is None or not found.asks_acid(turnaround.opened_at):
        return ""
    due = f"due within {found.within.acid_days} days"
    if found.acid_at is None:
        return f"No acid clean on record, {due}"
    on = timezone.localtime(found.acid_at)
    return f"Last acid clean on {shown_moment(on, 'j F Y')}, {due}"


def proposal_for(
    turnaround: Turnaround, *, candidates: Iterable[RegimeVersion] | None = None
) -> Proposal:
    """The regime that a turnaround needs, with the reasons. 7 queries, 4 with ``candidates``.

    1 more for a vessel that is cleaned by date.
    ``turnaround`` with vessel, emptying, its beer and the next beer loaded; ``candidates`` as
    of ``current_versions``.
    """
    vessel = turnaround.vessel
    last_beer, next_beer = turnaround.emptying.beer, turnaround.next_beer
    return propose(
        vessel=vessel,
        asks=asks_of(
            vessel=vessel,
            last_beer=last_beer,
            next_beer=next_beer,
            cleans_since_acid=cleans_since(vessel, StepKind.ACID),
            cleans_since_caustic=cleans_since(vessel, StepKind.CAUSTIC),
            acid_by_date=_acid_by_date(turnaround),
        ),
        candidates=current_versions() if candidates is None else candidates,
        reminders=reminders_of(last_beer=last_beer, next_beer=next_beer),
    )


@dataclasses.dataclass(frozen=True)
class RegimeChoice:
    """A regime for this kind of vessel, what it lacks of what is asked for, and what it harms."""

    version: RegimeVersion
    lacks: Sequence[str]
    harm: str = ""


def regime_choices(turnaround: Turnaround) -> tuple[Proposal, list[RegimeChoice]]:
    """The proposed regime, and the others for this kind of vessel. 7 queries, 9 at most
    where something is unfit and a label may allow it.

    ``turnaround`` as for :func:`proposal_for`. Those that lack least come first,
    those that harm the vessel last.
    """
    candidates = list(current_versions())
    proposal = proposal_for(turnaround, candidates=candidates)
    labels = Labels()
    others = [
        RegimeChoice(
            version=version,
            lacks=proposal.lacks_of(version),
            harm=harm_of(version, turnaround.vessel, labels),
        )
        for version in candidates
        if fits(version, turnaround.vessel) and version != proposal.version
    ]
    return proposal, sorted(others, key=lambda other: (bool(other.harm), len(other.lacks)))


def for_floor() -> QuerySet[Turnaround]:
    """Turnarounds with what their screens name. 1 query."""
    return Turnaround.objects.select_related(
        "vessel", "emptying__beer", "emptying__fill", "emptying__recorded_by", "next_beer", "start"
    )


def open_turnaround(vessel: Vessel) -> Turnaround | None:
    """The turnaround that a vessel is in, or ``None`` while it is in use. 1 query."""
    return for_floor().filter(vessel=vessel, closed_at__isnull=True).first()


def contents_of(vessel: Vessel) -> Fill | None:
    """What is in a vessel by the record, or ``None`` where no fill is. 1 query."""
    return vessel.fills.filter(emptying__isnull=True).select_related("beer").first()


def dirty_hold_ends_at(turnaround: Turnaround) -> datetime | None:
    """By when the first clean has to start; ``None`` once one has. 2 queries at most.

    ``None`` also where nobody knows when the vessel was emptied. ``turnaround`` as of
    :func:`for_floor`.
    """
    if start_of(turnaround) is not None or turnaround.cleans.exists():
        return None
    kind = turnaround.vessel.kind
    clock = HoldClock.objects.filter(vessel_kind=kind).first() or HoldClock(vessel_kind=kind)
    return turnaround.opened_at + timedelta(hours=clock.dirty_hold_h)


def last_flow_reading(vessel: Vessel) -> StepReading | None:
    """The latest standing flow read in a clean of a vessel; of a line, or its velocity. 1 query."""
    quantities = [Quantity.FLOW_L_MIN]
    if vessel.kind in LINES:
        quantities.append(Quantity.VELOCITY_M_S)
    return (
        StepReading.objects.filter(
            record__clean__turnaround__vessel=vessel,
            quantity__in=quantities,
            corrected_by__isnull=True,
        )
        .select_related("record__step")
        .order_by("-pk")
        .first()
    )


def last_strength_reading(agent: Agent) -> StepReading | None:
    """The latest strength read of an agent, on any vessel. 1 query."""
    return (
        StepReading.objects.filter(record__step__agent=agent, quantity="concentration")
        .order_by("-pk")
        .first()
    )


def last_titration(agent: Agent) -> StepReading | None:
    """The latest titration of an agent, on any vessel. 1 query."""
    return (
        StepReading.objects.filter(record__step__agent=agent, titration__has_key="titrant_ml")
        .order_by("-pk")
        .first()
    )


def usual_gear(vessel: Vessel) -> tuple[list[Skid], Skid | None, Skid | None]:
    """Skids and hoses in use, and which a clean of a vessel is likely to run on: its last, else
    the only skid. 1 query, 1 more where there are any."""
    found = list(skids_in_use())
    if not found:
        return [], None, None
    last = (
        Clean.objects.filter(turnaround__vessel=vessel)
        .exclude(skid=None, hose=None)
        .order_by("-pk")
        .values_list("skid", "hose")
        .first()
    )
    in_use = {one.pk: one for one in found}
    if last is None:
        return found, only_skid(found), None
    return found, in_use.get(last[0]), in_use.get(last[1])


def last_agent_lot(agent: Agent) -> str:
    """The lot of an agent that was last written down, or ''. 1 query."""
    return (
        StepRecord.objects.filter(step__agent=agent)
        .exclude(agent_lot="")
        .order_by("-pk")
        .values_list("agent_lot", flat=True)
        .first()
        or ""
    )
