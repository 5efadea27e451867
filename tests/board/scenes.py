"""Scenes of the cellar that end now, for views that read the server's own clock."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import Emptying, Fill, Vessel
from brewhygiene.people.models import Signature
from brewhygiene.plates import actions as plate_actions
from brewhygiene.plates.models import Plate
from brewhygiene.release import actions as release_actions
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.models import Clean, Turnaround
from tests import clock
from tests.factories import PASSWORD, Cellar, acting, make_point, make_vessel

MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)


class Now(Cellar):
    """A cellar whose ATP tests are in date today; times are given as what was ``ago``."""

    def __init__(self, **values: Any) -> None:
        super().__init__(**values)
        self.now = clock.now()
        self.lot.expires_on = (self.now + timedelta(days=300)).date()
        self.lot.save()

    def at(self, ago: timedelta) -> datetime:
        return self.now - ago

    def cleaned_ago(self, ago: timedelta, *, vessel: Vessel | None = None) -> Turnaround:
        """Emptied so long ago, and cleaned in the 20 minutes that followed."""
        return self.cleaned(now=self.at(ago), vessel=vessel)

    def sampled_ago(
        self, turnaround: Turnaround, ago: timedelta, *, rlu: int = 0, **values: Any
    ) -> Result:
        """Sampled with a meter checked in the same minute, whatever the day."""
        self.checked(now=self.at(ago))
        return self.sampled(turnaround, now=self.at(ago), rlu=rlu, **values)

    def to_decide(
        self, *, ago: timedelta = HOUR, rlu: int = 0, vessel: Vessel | None = None
    ) -> Turnaround:
        turnaround = self.cleaned_ago(ago, vessel=vessel)
        for point in turnaround.vessel.points.order_by("order"):
            self.sampled_ago(turnaround, ago - 30 * MINUTE, rlu=rlu, point=point)
        return turnaround

    def released_ago(
        self, ago: timedelta = 20 * MINUTE, *, vessel: Vessel | None = None, **values: Any
    ) -> Turnaround:
        turnaround = self.to_decide(ago=ago + 40 * MINUTE, vessel=vessel)
        self.decided(turnaround, now=self.at(ago), **values)
        return turnaround

    def filled_without_release(self, turnaround: Turnaround, *, ago: timedelta = MINUTE) -> Fill:
        return release_actions.record_fill_without_release(
            by=acting(self.brewer, now=self.at(ago)),
            turnaround=turnaround,
            beer=self.pale,
            batch="T-77",
            volume_hl=15,
            filled_at=self.at(ago),
            reason="Wort was in the line before anyone asked",
            password=PASSWORD,
        )

    def plate_sent(self, turnaround: Turnaround, *, ago: timedelta, **values: Any) -> Plate:
        return plate_actions.send_plate(
            by=acting(self.hand, now=self.at(ago)),
            turnaround=turnaround,
            **{
                "point": turnaround.vessel.points.first(),
                "medium": "MRS",
                "neutraliser": "thiosulfate",
                "incubation_c": 28,
                "incubation_days": 7,
                **values,
            },
        )

    def plate_read(self, plate: Plate, state: str, *, ago: timedelta = HOUR) -> Plate:
        return plate_actions.read_plate(
            by=acting(self.brewer, now=self.at(ago)),
            plate=plate,
            state=state,
            colonies=4 if state == "positive" else None,
            organism="rods" if state == "positive" else "",
        )

    def positive_plate(self, *, vessel: Vessel | None = None) -> Plate:
        """A vessel in use whose plate, sent eight days ago, was read positive an hour ago."""
        turnaround = self.released_ago(timedelta(days=8, hours=1), vessel=vessel)
        self.filled(turnaround, now=self.at(timedelta(days=8)))
        plate = self.plate_sent(turnaround, ago=timedelta(days=8))
        return self.plate_read(plate, "positive")


def crowd(cellar: Now, number: int) -> list[Vessel]:
    """So many vessels in mixed states, written straight to the tables for the sake of time."""
    vessels = []
    for index in range(number):
        vessel = make_vessel(
            points=2, kind="fermenter" if index % 3 else "bright_tank", order=index
        )
        _MAKERS[index % len(_MAKERS)](cellar, vessel)
        vessels.append(vessel)
    return vessels


def _emptied(cellar: Now, vessel: Vessel, ago: timedelta = 2 * HOUR) -> Turnaround:
    emptying = Emptying.objects.create(
        vessel=vessel, beer=cellar.pale, emptied_at=cellar.at(ago), recorded_by=cellar.hand
    )
    return Turnaround.objects.create(
        vessel=vessel, emptying=emptying, next_beer=cellar.pale, opened_at=cellar.at(ago)
    )


def _clean(cellar: Now, turnaround: Turnaround, *, finished: bool = True) -> Clean:
    started = turnaround.opened_at
    end = started + 20 * MINUTE if finished else None
    return Clean.objects.create(
        turnaround=turnaround,
        version=cellar.version,
        started_at=started,
        started_by=cellar.hand,
        finished_at=end,
        sanitised_at=end,
        finished_by=cellar.hand if finished else None,
    )


def _results(cellar: Now, clean: Clean, *verdicts: str) -> None:
    turnaround = clean.turnaround
    for point, verdict in zip(turnaround.vessel.points.order_by("order"), verdicts, strict=False):
        moment = turnaround.opened_at + 30 * MINUTE
        Result.objects.create(
            turnaround=turnaround,
            clean=clean,
            point=point,
            meter=cellar.meter,
            test_lot=cellar.lot,
            limits=cellar.limits,
            rlu={"clear": 1, "alert": 15, "action": 90}[verdict],
            verdict=verdict,
            rinse_end="sanitiser_left",
            taken_at=moment,
            recorded_at=moment,
            recorded_by=cellar.hand,
        )


def _decide(cellar: Now, clean: Clean, outcome: str) -> Decision:
    moment = clean.turnaround.opened_at + 40 * MINUTE
    return Decision.objects.create(
        turnaround=clean.turnaround,
        clean=clean,
        outcome=outcome,
        decided_at=moment,
        signature=Signature.objects.create(
            user=cellar.brewer, printed_name="Mara Oduya", meaning=outcome, signed_at=moment
        ),
        reason="Not sure of it" if outcome == "hold" else "",
        gates=[],
        lapses_at=moment + 4 * HOUR if outcome == "release" else None,
    )


def _make_in_use(cellar: Now, vessel: Vessel) -> None:
    Fill.objects.create(
        vessel=vessel,
        beer=cellar.pale,
        batch=f"B{vessel.pk}",
        volume_hl=20,
        filled_at=cellar.at(30 * HOUR),
        recorded_by=cellar.hand,
    )


def _make_empty(cellar: Now, vessel: Vessel) -> None:
    _emptied(cellar, vessel)


def _make_late(cellar: Now, vessel: Vessel) -> None:
    _emptied(cellar, vessel, 30 * HOUR)


def _make_cleaning(cellar: Now, vessel: Vessel) -> None:
    _clean(cellar, _emptied(cellar, vessel), finished=False)


def _make_to_sample(cellar: Now, vessel: Vessel) -> None:
    _results(cellar, _clean(cellar, _emptied(cellar, vessel)), "clear")


def _make_to_decide(cellar: Now, vessel: Vessel) -> None:
    _results(cellar, _clean(cellar, _emptied(cellar, vessel)), "clear", "alert")


def _make_held(cellar: Now, vessel: Vessel) -> None:
    _results(cellar, _clean(cellar, _emptied(cellar, vessel)), "action", "clear")


def _make_released(cellar: Now, vessel: Vessel) -> None:
    clean = _clean(cellar, _emptied(cellar, vessel))
    _results(cellar, clean, "clear", "clear")
    _decide(cellar, clean, "release")


def _make_lapsed(cellar: Now, vessel: Vessel) -> None:
    clean = _clean(cellar, _emptied(cellar, vessel, 10 * HOUR))
    _results(cellar, clean, "clear", "clear")
    _decide(cellar, clean, "release")


def _make_out_of_service(cellar: Now, vessel: Vessel) -> None:
    vessel.out_of_service_since = cellar.at(50 * HOUR)
    vessel.out_of_service_reason = "Manway gasket torn"
    vessel.save()


def _make_positive(cellar: Now, vessel: Vessel) -> None:
    turnaround = _emptied(cellar, vessel)
    Plate.objects.create(
        vessel=vessel,
        turnaround=turnaround,
        point=vessel.points.first() or make_point(vessel),
        medium="MRS",
        taken_at=cellar.at(200 * HOUR),
        due_on=cellar.at(30 * HOUR).date(),
        sent_by=cellar.hand,
        state="positive",
        colonies=3,
        read_at=cellar.at(3 * HOUR),
        read_by=cellar.brewer,
    )


_MAKERS: tuple[Callable[[Now, Vessel], None], ...] = (
    _make_in_use,
    _make_empty,
    _make_late,
    _make_cleaning,
    _make_to_sample,
    _make_to_decide,
    _make_held,
    _make_released,
    _make_lapsed,
    _make_out_of_service,
    _make_positive,
)
