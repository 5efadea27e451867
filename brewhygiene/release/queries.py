"""Reads of status for the board and the release room, and the dossier of one turnaround."""

import dataclasses
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db.models import Min, OuterRef, QuerySet, Subquery

from brewhygiene.atp.meters.queries import failed_later
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.models.recovery import RecoveryStudy
from brewhygiene.atp.recovery.queries import recovery_studies_for
from brewhygiene.cellar.models import Fill, HoldClock, SamplingPoint, Vessel
from brewhygiene.cellar.moments import taken_late
from brewhygiene.changeovers.turnaround import NO_CHANGEOVER, Changeover, changeover_of
from brewhygiene.delivery.arrivals import unverified
from brewhygiene.delivery.models import Arrival
from brewhygiene.ledger.recording import aggregate_name, record_hash
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.plates.queries import plates_on_record
from brewhygiene.regimes.models import RegimeVersion, StepKind
from brewhygiene.regimes.queries import current_versions
from brewhygiene.release.models import Decision
from brewhygiene.release.standing.facts import HoldTimes, VesselFacts
from brewhygiene.release.standing.reading import open_turnarounds, turnaround_facts
from brewhygiene.release.status import Status, status_of
from brewhygiene.turnarounds.models import CleanPurpose, Turnaround, VesselOpening
from brewhygiene.turnarounds.progress import CleanProgress, progress_of
from brewhygiene.turnarounds.queries import by_date_of, cleans_with_records


@dataclasses.dataclass(frozen=True)
class VesselState:
    """A vessel with what its status follows from."""

    vessel: Vessel
    facts: VesselFacts
    status: Status
    turnaround: Turnaround | None


def _vessels_with_clocks(vessels: QuerySet[Vessel]) -> QuerySet[Vessel]:
    clock = HoldClock.objects.filter(vessel_kind=OuterRef("kind"))
    positive = (
        Plate.objects.filter(
            vessel=OuterRef("pk"), state=PlateState.POSITIVE, resolved_at__isnull=True
        )
        .order_by()
        .values("vessel")
        .annotate(since=Min("read_at"))
        .values("since")
    )
    return vessels.annotate(
        dirty_hold_h=Subquery(clock.values("dirty_hold_h")[:1]),
        clean_hold_h=Subquery(clock.values("clean_hold_h")[:1]),
        sanitised_hold_h=Subquery(clock.values("sanitised_hold_h")[:1]),
        open_positive_since=Subquery(positive),
        # By the index on vessel and time; looking for fills without an emptying reads them all.
        last_fill_pk=Subquery(
            Fill.objects.filter(vessel=OuterRef("pk"))
            .order_by("-filled_at", "-pk")
            .values("pk")[:1]
        ),
    )


def _hold_times_of(vessel: Vessel) -> HoldTimes:
    """From the annotations; the defaults where a kind has no hold times of its own."""
    usual = HoldTimes()

    def hours(name: str, default: timedelta) -> timedelta:
        value = getattr(vessel, name)
        return default if value is None else timedelta(hours=value)

    return HoldTimes(
        dirty=hours("dirty_hold_h", usual.dirty),
        clean=hours("clean_hold_h", usual.clean),
        sanitised=hours("sanitised_hold_h", usual.sanitised),
    )


def states_of(vessels: QuerySet[Vessel], *, now: datetime) -> list[VesselState]:
    """Every vessel with its status. 7 queries, whatever the number of vessels.

    1 more where one is cleaned by date.
    """
    loaded = list(_vessels_with_clocks(vessels))
    turnarounds = open_turnarounds(vessels)
    facts = turnaround_facts(turnarounds.values())
    points: dict[int, dict[int, str]] = defaultdict(dict)
    for vessel_pk, point_pk, name in (
        SamplingPoint.objects.filter(vessel__in=turnarounds, required_for_release=True, active=True)
        .order_by("order", "pk")
        .values_list("vessel_id", "pk", "name")
    ):
        points[vessel_pk][point_pk] = name
    last_fills = [vessel.last_fill_pk for vessel in loaded]  # type: ignore[attr-defined]
    fills = {
        fill.vessel_id: fill
        for fill in Fill.objects.filter(pk__in=last_fills, emptying__isnull=True).select_related(
            "beer"
        )
    }
    by_date = by_date_of(loaded)
    states = []
    for vessel in loaded:
        turnaround, fill = turnarounds.get(vessel.pk), fills.get(vessel.pk)
        vessel_facts = VesselFacts(
            name=vessel.name,
            hold_times=_hold_times_of(vessel),
            required_points=points[vessel.pk],
            out_of_service_since=vessel.out_of_service_since,
            out_of_service_reason=vessel.out_of_service_reason,
            open_positive_since=vessel.open_positive_since,  # type: ignore[attr-defined]
            filled_at=fill.filled_at if fill else None,
            contents=f"{fill.beer.name} {fill.batch}".strip() if fill else "",
            filled_before_record=fill.before_record if fill else False,
            filled_without_release=fill.without_release if fill else False,
            turnaround=facts[turnaround.pk] if turnaround else None,
            by_date=dataclasses.replace(by_date[vessel.pk], since=fill.filled_at if fill else None)
            if vessel.pk in by_date
            else None,
        )
        states.append(
            VesselState(
                vessel=vessel,
                facts=vessel_facts,
                status=status_of(vessel_facts, now),
                turnaround=turnaround,
            )
        )
    return states


def state_of(vessel: Vessel, *, now: datetime) -> VesselState:
    """One vessel with its status. 7 queries."""
    return states_of(Vessel.objects.filter(pk=vessel.pk), now=now)[0]


def versions_to_resanitise(vessel: Vessel, *, sampled: bool) -> list[RegimeVersion]:
    """The versions in force that re-sanitise this kind of vessel, with their steps. 3 queries.

    Where it is ``sampled`` again those with a sample step come first, else those without.
    """
    found = [
        version
        for version in current_versions()
        if version.regime.resanitises_only and vessel.kind in version.regime.vessel_kinds
    ]
    return sorted(
        found,
        key=lambda version: any(s.kind == StepKind.SAMPLE for s in version.steps.all()) != sampled,
    )


@dataclasses.dataclass(frozen=True)
class Dossier:
    """All that is on record of one turnaround, for the gates, the release page and the PDF."""

    turnaround: Turnaround
    facts: VesselFacts
    status: Status | None
    cleans: Sequence[CleanProgress]
    results: Sequence[Result]
    plates: Sequence[Plate]
    recovery_studies: Sequence[RecoveryStudy]
    open_plates: Sequence[Plate]
    decisions: Sequence[Decision]
    openings: Sequence[VesselOpening]
    failed_checks_later: frozenset[int]
    record_hash: str
    entries: int
    changeover: Changeover = NO_CHANGEOVER
    # What waits for the person in whose name it was recorded.
    stated_names: Sequence[Arrival] = ()

    @property
    def standing_results(self) -> list[Result]:
        """The results that no correction replaces."""
        replaced = {result.corrects_id for result in self.results if result.corrects_id}
        return [result for result in self.results if result.pk not in replaced]

    @property
    def last_finished(self) -> CleanProgress | None:
        return next((c for c in reversed(self.cleans) if c.clean.finished_at is not None), None)

    @property
    def last_full_clean(self) -> CleanProgress | None:
        return next(
            (
                c
                for c in reversed(self.cleans)
                if c.clean.finished_at is not None and c.clean.purpose == CleanPurpose.CLEAN
            ),
            None,
        )

    @property
    def counted_cleans(self) -> list[CleanProgress]:
        """The last finished clean and the re-sanitises finished after it."""
        full = self.last_full_clean
        if full is None:
            return []
        return [
            c
            for c in self.cleans
            if c.clean.pk >= full.clean.pk and c.clean.finished_at is not None
        ]

    def without_control(self, result: Result) -> bool:
        """Whether no passed control check stands before and after a reading."""
        check = result.control_check
        return check is None or not check.passed or result.pk in self.failed_checks_later

    def taken_late(self, result: Result) -> bool:
        """Whether a reading of a clean with a sample step was taken after it had passed."""
        return taken_late(result.point.moment, result.moment) and any(
            item.step.kind == StepKind.SAMPLE
            for progress in self.cleans
            if progress.clean.pk == result.clean_id
            for item in progress.steps
        )

    @property
    def workers(self) -> set[int]:
        """Primary keys of those who ran the counted cleans or read their samples."""
        counted = {c.clean.pk for c in self.counted_cleans}
        return _hands(
            self.counted_cleans, [r for r in self.standing_results if r.clean_id in counted]
        )

    @property
    def took_part(self) -> set[int]:
        """Primary keys of those who cleaned or sampled at any time in this turnaround."""
        return _hands(self.cleans, self.results)


def _hands(cleans: Iterable[CleanProgress], results: Iterable[Result]) -> set[int]:
    found: set[int | None] = {result.recorded_by_id for result in results}
    for progress in cleans:
        found |= {progress.clean.started_by_id, progress.clean.finished_by_id}
        for item in progress.steps:
            for attempt in item.attempts:
                found |= {attempt.started_by_id, attempt.ended_by_id}
    return {pk for pk in found if pk is not None}


def load_dossier(turnaround: Turnaround, *, now: datetime) -> Dossier:
    """Everything on record of a turnaround. 29 queries at most."""
    turnaround = Turnaround.objects.select_related(
        "vessel",
        "emptying__beer",
        "emptying__fill__beer",
        "emptying__recorded_by",
        "next_beer",
        "closing_fill__beer",
        "closing_fill__recorded_by",
        "closing_fill__without_release_signature",
        "start__signature",
        "start__recorded_by",
    ).get(pk=turnaround.pk)
    state = state_of(turnaround.vessel, now=now)
    is_open = turnaround.closed_at is None
    facts = state.facts
    if not is_open:
        facts = dataclasses.replace(
            facts,
            turnaround=turnaround_facts([turnaround])[turnaround.pk],
            required_points={
                p.pk: p.name
                for p in turnaround.vessel.points.filter(required_for_release=True, active=True)
            },
        )
    results = list(
        Result.objects.filter(turnaround=turnaround)
        .select_related(
            "point",
            "meter",
            "test_lot__atp_test",
            "limits__approval",
            "limits__meter",
            "limits__atp_test",
            "control_check",
            "recorded_by",
            "correction_signature",
        )
        .order_by("pk")
    )
    plates = list(plates_on_record(turnaround))
    digest, entries = record_hash(turnaround)
    return Dossier(
        turnaround=turnaround,
        facts=facts,
        status=state.status if is_open else None,
        cleans=[
            progress_of(clean)
            for clean in cleans_with_records().filter(turnaround=turnaround).order_by("pk")
        ],
        results=results,
        plates=plates,
        recovery_studies=recovery_studies_for(results),
        open_plates=list(
            Plate.objects.filter(
                vessel=turnaround.vessel, state=PlateState.POSITIVE, resolved_at__isnull=True
            ).select_related("point")
        ),
        decisions=list(
            Decision.objects.filter(turnaround=turnaround)
            .select_related("signature__user", "second_signature", "clean__version__regime")
            .order_by("pk")
        ),
        openings=list(turnaround.openings.select_related("recorded_by")),
        failed_checks_later=failed_later(results),
        record_hash=digest,
        entries=entries,
        changeover=changeover_of(turnaround),
        stated_names=list(
            unverified().filter(aggregate=aggregate_name(turnaround)).select_related("person")
        ),
    )
