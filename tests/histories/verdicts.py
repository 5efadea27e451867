"""Control checks, ATP readings, plates and decisions, straight into the tables."""

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import ControlCheck, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.people.models import Signature
from brewhygiene.plates.models import Plate
from brewhygiene.release.models import Decision
from brewhygiene.science.judging import judge_rlu
from brewhygiene.turnarounds.models import (
    Clean,
)
from tests.factories import Cellar
from tests.histories.turns import BATCH, Picks, Swab, Turn


def swabs_of(
    turns: list[Turn],
    cleans: list[Clean],
    vessels: Sequence[Vessel],
    pick: Picks,
    *,
    sampled: Callable[[Swab], bool],
) -> list[tuple[Swab, Clean]]:
    points: dict[int, list[SamplingPoint]] = {vessel.pk: [] for vessel in vessels}
    of_vessels = SamplingPoint.objects.filter(vessel__in=points, active=True)
    for point in of_vessels.select_related("vessel"):
        points[point.vessel_id].append(point)
    swabs = [
        (Swab(turn, point, pick.of("meter", turn), pick.of("test_lot", turn), place), clean)
        for turn, clean in zip(turns, cleans, strict=True)
        for place, point in enumerate(points[turn.vessel.pk])
    ]
    return [(swab, clean) for swab, clean in swabs if sampled(swab)]


def _taken_at(swab: Swab) -> datetime:
    return swab.turn.at + timedelta(hours=3.9 if swab.turn.again else 3.5)


def write_checks(
    swabs: list[tuple[Swab, Clean]],
    cellar: Cellar,
    *,
    positive_rlu: Callable[[Meter, datetime], int] | None,
) -> dict[tuple[int, object], ControlCheck]:
    days = {(swab.meter.pk, _taken_at(swab).date()): swab for swab, _ in swabs}
    checks = []
    for swab in days.values():
        meter, moment = swab.meter, _taken_at(swab) - timedelta(hours=3)
        middle = (meter.positive_min_rlu + meter.positive_max_rlu) // 2
        positive = positive_rlu(meter, moment) if positive_rlu else middle
        checks.append(
            ControlCheck(
                meter=meter,
                checked_at=moment,
                checked_on=_taken_at(swab).date(),
                blank_rlu=0,
                positive_rlu=positive,
                passed=meter.positive_within(positive),
                checked_by=cellar.hand,
            )
        )
    checks = ControlCheck.objects.bulk_create(
        sorted(checks, key=lambda check: check.checked_at), batch_size=BATCH
    )
    return {(check.meter_id, check.checked_on): check for check in checks}


def write_readings(
    swabs: list[tuple[Swab, Clean]],
    checks: dict[tuple[int, object], ControlCheck],
    pick: Picks,
    *,
    rlu: Callable[[Swab], int],
) -> list[Result]:
    in_force = {
        (limits.meter_id, limits.atp_test_id, limits.point_id): limits
        for limits in LimitSet.objects.filter(approved_at__isnull=False, retired_at__isnull=True)
    }
    results = []
    for swab, clean in swabs:
        scale = (swab.meter.pk, swab.lot.atp_test_id)
        limits = in_force.get((*scale, swab.point.pk)) or in_force.get((*scale, None))
        read, moment = rlu(swab), _taken_at(swab)
        results.append(
            Result(
                turnaround=clean.turnaround,
                clean=clean,
                point=swab.point,
                meter=swab.meter,
                test_lot=swab.lot,
                control_check=checks[swab.meter.pk, moment.date()],
                limits=limits,
                rlu=read,
                verdict=judge_rlu(
                    rlu=read,
                    alert_rlu=limits.alert_rlu if limits else None,
                    action_rlu=limits.action_rlu if limits else None,
                ),
                moment="in_sanitiser",
                rinse_end="sanitiser_left",
                taken_at=moment,
                recorded_at=moment,
                recorded_by=pick.of("cleaned_by", swab.turn),
            )
        )
    return Result.objects.bulk_create(results, batch_size=BATCH)


def write_plates(
    swabs: Iterable[tuple[Swab, Clean]],
    cellar: Cellar,
    *,
    plate: Callable[[Swab], str | None],
) -> list[Plate]:
    plates = []
    for swab, clean in swabs:
        state = plate(swab)
        if not state:
            continue
        moment = _taken_at(swab)
        due = moment + timedelta(days=7)
        read = state != "pending"
        grown = swab.turn.chance("colonies").randint(2, 40) if state == "positive" else None
        plates.append(
            Plate(
                vessel=swab.turn.vessel,
                turnaround=clean.turnaround,
                point=swab.point,
                medium="WLN",
                incubation_c=28,
                incubation_days=7,
                taken_at=moment,
                due_on=due.date(),
                sent_by=cellar.hand,
                state=state,
                colonies=grown,
                organism="wild yeast" if state == "positive" else "",
                read_at=due if read else None,
                read_by=cellar.brewer if read else None,
            )
        )
    return Plate.objects.bulk_create(plates, batch_size=BATCH)


def write_decisions(turns: list[Turn], cleans: list[Clean], pick: Picks) -> None:
    """Every last clean of a turnaround is released; one that was cleaned again was held before."""
    rows = []
    for n, (turn, clean) in enumerate(zip(turns, cleans, strict=True)):
        held = n + 1 < len(turns) and turns[n + 1].again
        rows.append((turn, clean, held))
    signatures = Signature.objects.bulk_create(
        [
            Signature(
                user=pick.of("released_by", turn),
                printed_name=pick.of("released_by", turn).full_name,
                meaning="Hold" if held else "Release",
                signed_at=turn.at + timedelta(hours=3.6 if held else 4),
            )
            for turn, _, held in rows
        ],
        batch_size=BATCH,
    )
    Decision.objects.bulk_create(
        [
            Decision(
                turnaround=clean.turnaround,
                clean=clean,
                outcome="hold" if held else "release",
                decided_at=signature.signed_at,
                signature=signature,
                reason="Clean it again (invented)" if held else "",
                gates=[],
                lapses_at=None if held else signature.signed_at + timedelta(hours=4),
                self_release=pick.of("cleaned_by", turn) == pick.of("released_by", turn),
            )
            for (turn, clean, held), signature in zip(rows, signatures, strict=True)
        ],
        batch_size=BATCH,
    )
