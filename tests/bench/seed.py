"""A large invented brewery, written straight into the tables: speed is measured, not truth."""

import itertools
import random
from collections.abc import Iterator
from datetime import datetime, timedelta

from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, ControlCheck, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Beer, Emptying, Fill, SamplingPoint, Vessel
from brewhygiene.ledger.adoption import bind_unbound
from brewhygiene.people.models import Signature, User
from brewhygiene.people.roles import CELLAR, HEAD_BREWER
from brewhygiene.plates.models import Plate
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.models import Clean, StepReading, StepRecord, Turnaround
from tests import clock
from tests.factories import make_limits, make_user, make_version, make_vessel

POINTS = 5
BATCH = 5_000


def seed(*, vessels: int, results: int, years: float = 10) -> None:
    """``vessels`` vessels with ``results`` readings in all, spread over ``years`` years.

    Every tenth vessel is left released, cleaning, to sample and so on, so that the board has
    something of each; the rest are in use. One vessel in forty gets worse at its end.
    """
    rng = random.Random(20260310)
    Brewery(name="A large invented brewery", time_zone="UTC").save()
    brewer = make_user(HEAD_BREWER, username="brewer")
    hand = make_user(CELLAR, username="hand")
    version = make_version()
    beer = Beer.objects.create(name="Invented pale")
    meter = Meter.objects.create(
        name="Meter", serial="1", blank_max_rlu=5, positive_min_rlu=100, positive_max_rlu=400
    )
    swab = AtpTest.objects.create(name="Rinse sampler", sample_kind="rinse")
    lot = AtpTestLot.objects.create(
        atp_test=swab, lot="L1", expires_on=clock.today() + timedelta(days=90)
    )
    now = clock.now()
    make_limits(by=brewer, meter=meter, atp_test=swab, now=now)
    limits = meter.limits.get()
    check = ControlCheck.objects.create(
        meter=meter,
        checked_at=now,
        checked_on=now.date(),
        blank_rlu=0,
        positive_rlu=200,
        passed=True,
        checked_by=hand,
    )
    made = [make_vessel(name=f"FV{n:03d}", points=POINTS, order=n) for n in range(vessels)]
    each = max(1, results // (vessels * POINTS))
    for vessel in made:
        points = list(vessel.points.all())
        _history(
            vessel,
            points,
            each,
            years=years,
            now=now,
            rng=rng,
            hand=hand,
            brewer=brewer,
            version=version,
            beer=beer,
            meter=meter,
            lot=lot,
            limits=limits,
            check=check,
        )
    # As if each had been written by its action: what is recorded next stands on as long a ledger.
    bind_unbound(now=now)


def _batched(rows: Iterator) -> Iterator[list]:
    while chunk := list(itertools.islice(rows, BATCH)):
        yield chunk


def _history(
    vessel: Vessel,
    points: list[SamplingPoint],
    count: int,
    *,
    years: float,
    now: datetime,
    rng: random.Random,
    hand: User,
    brewer: User,
    version: RegimeVersion,
    beer: Beer,
    meter: Meter,
    lot: AtpTestLot,
    limits,
    check: ControlCheck,
) -> None:
    step = timedelta(days=365 * years) / (count + 1)
    starts = [now - step * (count - n) - timedelta(hours=8) for n in range(count)]
    open_last = vessel.order % 10 == 0
    fills = Fill.objects.bulk_create(
        [
            Fill(
                vessel=vessel,
                beer=beer,
                batch=f"{vessel.name}-{n}",
                volume_hl=25,
                filled_at=start + timedelta(hours=6),
                recorded_by=hand,
            )
            for n, start in enumerate(starts[:-1] if open_last else starts)
        ],
        batch_size=BATCH,
    )
    emptyings = Emptying.objects.bulk_create(
        [
            Emptying(
                vessel=vessel,
                fill=fills[n - 1] if n else None,
                beer=beer,
                emptied_at=start,
                recorded_by=hand,
            )
            for n, start in enumerate(starts)
        ],
        batch_size=BATCH,
    )
    turnarounds = Turnaround.objects.bulk_create(
        [
            Turnaround(
                vessel=vessel,
                emptying=emptying,
                opened_at=emptying.emptied_at,
                closed_at=fills[n].filled_at if n < len(fills) else None,
                closing_fill=fills[n] if n < len(fills) else None,
            )
            for n, emptying in enumerate(emptyings)
        ],
        batch_size=BATCH,
    )
    cleans = Clean.objects.bulk_create(
        [
            Clean(
                turnaround=turnaround,
                version=version,
                required_level=2,
                started_at=turnaround.opened_at + timedelta(hours=2),
                started_by=hand,
                finished_at=turnaround.opened_at + timedelta(hours=4),
                finished_by=hand,
                sanitised_at=turnaround.opened_at + timedelta(hours=4),
            )
            for turnaround in turnarounds
        ],
        batch_size=BATCH,
    )
    steps = list(version.steps.all())
    # The steps of the last two years only: they are read one clean at a time, by their keys.
    records = StepRecord.objects.bulk_create(
        [
            StepRecord(
                clean=clean,
                step=item,
                started_at=clean.started_at,
                started_by=hand,
                ended_at=clean.finished_at,
                ended_by=hand,
                agent_lot=f"P-{clean.started_at:%y%m}" if item.agent_id else "",
            )
            for clean in cleans[-200:]
            for item in steps
        ],
        batch_size=BATCH,
    )
    StepReading.objects.bulk_create(
        [
            StepReading(
                record=record,
                quantity="time_min",
                value=30,
                typed="30 min",
                verdict="within",
                taken_at=record.started_at,
                taken_by=hand,
            )
            for record in records
        ],
        batch_size=BATCH,
    )

    fouling = vessel.order % 40 == 7

    def results() -> Iterator[Result]:
        for number, (turnaround, clean) in enumerate(zip(turnarounds, cleans, strict=True)):
            moment = clean.finished_at + timedelta(minutes=20)
            for point in points:
                rlu = int(rng.lognormvariate(0.8, 1.1))
                if fouling and number > count - 15:
                    rlu += 12
                yield Result(
                    turnaround=turnaround,
                    clean=clean,
                    point=point,
                    meter=meter,
                    test_lot=lot,
                    control_check=check,
                    limits=limits,
                    rlu=rlu,
                    verdict="clear" if rlu <= 10 else "alert" if rlu <= 30 else "action",
                    moment="in_sanitiser",
                    rinse_end="sanitiser_left",
                    taken_at=moment,
                    recorded_at=moment,
                    recorded_by=hand,
                )

    for chunk in _batched(results()):
        Result.objects.bulk_create(chunk)
    Plate.objects.bulk_create(_plates(vessel, points, turnarounds, rng, hand=hand, brewer=brewer))
    signatures = Signature.objects.bulk_create(
        [
            Signature(
                user=brewer,
                printed_name=brewer.full_name,
                meaning="Release",
                signed_at=clean.finished_at + timedelta(hours=1),
            )
            for clean in cleans
        ],
        batch_size=BATCH,
    )
    Decision.objects.bulk_create(
        [
            Decision(
                turnaround=turnaround,
                clean=clean,
                outcome="release",
                decided_at=signature.signed_at,
                signature=signature,
                gates=[],
                lapses_at=clean.finished_at + timedelta(hours=4),
            )
            for turnaround, clean, signature in zip(turnarounds, cleans, signatures, strict=True)
        ],
        batch_size=BATCH,
    )


def _plates(
    vessel: Vessel,
    points: list[SamplingPoint],
    turnarounds: list[Turnaround],
    rng: random.Random,
    *,
    hand: User,
    brewer: User,
) -> list[Plate]:
    """One for every twentieth turnaround; one of them in thirty grew, and is closed."""
    plates = []
    for turnaround in turnarounds[:-20:20]:
        moment = turnaround.opened_at + timedelta(hours=5)
        due = moment + timedelta(days=7)
        grew = rng.random() < 1 / 30
        plate = Plate(
            vessel=vessel,
            turnaround=turnaround,
            point=points[0],
            medium="WLN",
            incubation_c=28,
            incubation_days=7,
            taken_at=moment,
            due_on=due.date(),
            sent_by=hand,
            state="positive" if grew else "negative",
            colonies=12 if grew else None,
            organism="wild yeast" if grew else "",
            read_at=due,
            read_by=brewer,
        )
        if grew:
            plate.resolved_at = due
            plate.resolution = "Cleaned again (invented)"
            plate.resolution_signature = Signature.objects.create(
                user=brewer, printed_name=brewer.full_name, meaning="Closed", signed_at=due
            )
        plates.append(plate)
    return plates
