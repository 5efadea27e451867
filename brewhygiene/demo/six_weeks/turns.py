"""How the invented people turn a vessel round: emptied, cleaned, sampled, decided, filled."""

import dataclasses
from collections.abc import Generator, Mapping
from datetime import datetime, timedelta
from typing import TypedDict

from brewhygiene.atp.meters import actions as meter_actions
from brewhygiene.atp.meters.queries import control_check_of_day
from brewhygiene.atp.models.meters import AtpTestLot
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.readings import actions as reading_actions
from brewhygiene.atp.readings.due import to_sample
from brewhygiene.cellar.models import Beer, SampleKind, SamplingPoint, Vessel, VesselKind
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.demo import cleaning
from brewhygiene.demo.brewery import InventedBrewery
from brewhygiene.demo.cleaning import Trouble
from brewhygiene.demo.paper_year.faults import Code, fault_of
from brewhygiene.demo.people import DEMO_PASSWORDS
from brewhygiene.demo.readings import METER_B_TIMES, rlu_read
from brewhygiene.demo.six_weeks.beer_moves import BeerMoves
from brewhygiene.demo.skids import skid_for
from brewhygiene.demo.stage import Script, Stage
from brewhygiene.people.models import User
from brewhygiene.plates import actions as plate_actions
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.plates.neutralisers import proposed, taken_in
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.release import actions as release_actions
from brewhygiene.release.models import Decision
from brewhygiene.release.powers.explaining import Explanation
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.models import Clean, Turnaround
from brewhygiene.turnarounds.queries import proposal_for

WITHOUT_AIR = "UBA, without air"


@dataclasses.dataclass(frozen=True)
class Plan:
    """What is to happen in one turnaround beyond the usual; minutes and RLU."""

    who: str = "jonas"
    releases: str = "mara"
    regime: str = ""  # another than the proposed
    weaker_reason: str = ""
    waits_min: float = 35  # from emptied to the start of the clean
    trouble: Trouble = cleaning.NONE
    rlu: Mapping[str, int] = dataclasses.field(default_factory=dict)  # by point
    notes: Mapping[str, str] = dataclasses.field(default_factory=dict)  # by point
    hold: str = ""  # why it is held
    reasons: Mapping[str, Explanation] = dataclasses.field(default_factory=dict)  # by gate
    note: str = ""
    co2_left: bool = True
    plate: str = ""  # point of which a plate is sent
    medium: str = ""  # of the plate; '' for the one that fits what grows
    positive: str = ""  # what grows on it; '' for nothing


USUAL = Plan()


class Contents(TypedDict):
    """What goes into a vessel, in hL."""

    beer: Beer
    batch: str
    volume_hl: float


class Turns:
    """The deeds of a turnaround, each a script that ends with its last verb."""

    def __init__(self, stage: Stage, brewery: InventedBrewery) -> None:
        self.stage = stage
        self.brewery = brewery
        self.beer_moves = BeerMoves(stage, brewery)

    def person(self, name: str) -> User:
        return self.brewery.people[name]

    # --- whole turnarounds ------------------------------------------------------------------

    def usual(
        self,
        vessel: Vessel,
        *,
        emptied: datetime,
        holds: str,
        beer: str,
        plan: Plan = USUAL,
    ) -> Script:
        """Emptied, cleaned, sampled, released and filled with the next beer."""
        turnaround = yield from self.empty(vessel, at=emptied, holds=holds, beer=beer, plan=plan)
        yield from self.clean(turnaround, begins=self.after(plan.waits_min), plan=plan)
        yield from self.send(turnaround, begins=self.after(12), plan=plan)
        yield self.after(25)
        self.decide(turnaround, "release", plan=plan)
        yield self.after(40)
        self.fill(turnaround, beer=beer, plan=plan)

    def after(self, minutes: float) -> datetime:
        """A moment about so many minutes from now in the play."""
        return self.stage.moment + timedelta(minutes=minutes * self.stage.chance.uniform(0.8, 1.2))

    # --- single deeds -----------------------------------------------------------------------

    def empty(
        self,
        vessel: Vessel,
        *,
        at: datetime,
        holds: str = "",
        beer: str = "",
        plan: Plan = USUAL,
    ) -> Generator[datetime, None, Turnaround]:
        yield at
        by = self.stage.by(self.person(plan.who))
        self.beer_moves.package(vessel, by=by)
        return turnaround_actions.empty_vessel(
            by=by,
            vessel=vessel,
            emptied_at=self.stage.moment,
            beer=self.brewery.beers.get(holds),
            next_beer=self.brewery.beers.get(beer),
            co2_left=plan.co2_left,
            note=plan.note,
        )

    def start(self, turnaround: Turnaround, *, plan: Plan = USUAL) -> Clean:
        """Start the clean that is proposed, or the one that the plan names."""
        turnaround = Turnaround.objects.select_related("vessel", "emptying__beer", "next_beer").get(
            pk=turnaround.pk
        )
        version: RegimeVersion | None
        if plan.regime:
            version = self.brewery.version(plan.regime)
        else:
            version = proposal_for(turnaround).version
        assert version is not None
        return turnaround_actions.start_clean(
            by=self.stage.by(self.person(plan.who)),
            turnaround=turnaround,
            version=version,
            weaker_reason=plan.weaker_reason,
            skid=skid_for(turnaround.vessel),
        )

    def clean(
        self,
        turnaround: Turnaround,
        *,
        begins: datetime,
        plan: Plan = USUAL,
        meter: str = "a",
        sampled: bool = True,
    ) -> Script:
        """Clean it, and read the samples at the clean's sample step where it is ``sampled``."""
        yield begins
        clean = self.start(turnaround, plan=plan)
        yield from cleaning.run(
            self.stage,
            clean,
            who=self.person(plan.who),
            begins=self.after(4),
            trouble=plan.trouble,
            sampling=self._swabs(turnaround, plan=plan, meter=meter) if sampled else None,
        )

    def resanitise(self, turnaround: Turnaround, *, begins: datetime, plan: Plan = USUAL) -> Script:
        yield begins
        clean = release_actions.resanitise(
            by=self.stage.by(self.person(plan.who)),
            turnaround=turnaround,
            version=self.brewery.version("Re-sanitise only"),
            skid=skid_for(turnaround.vessel),
        )
        yield from cleaning.run(
            self.stage,
            clean,
            who=self.person(plan.who),
            begins=self.after(3),
            sampling=self._swabs(turnaround, plan=plan),
        )

    def check_meter(self, name: str = "a", *, blank_rlu: int = 0, who: str = "jonas") -> None:
        low, high = self.brewery.positive_rlu[name]
        meter_actions.record_control_check(
            by=self.stage.by(self.person(who)),
            meter=self.brewery.meters[name],
            blank_rlu=blank_rlu,
            positive_rlu=self.stage.chance.randint(low, high),
        )

    def _swabs(self, turnaround: Turnaround, *, plan: Plan, meter: str = "a") -> Script:
        """Read every required point, and those that the plan names."""
        yield self.stage.moment + timedelta(minutes=3)
        day = self.stage.moment.astimezone(self.stage.zone).date()
        if control_check_of_day(meter=self.brewery.meters[meter], day=day) is None:
            self.check_meter(meter, who=plan.who)
        points = [
            point
            for point in turnaround.vessel.points.all()
            if point.required_for_release or point.name in plan.rlu
        ]
        for number, point in enumerate(points):
            if number:
                yield self.after(3)
            self.read_swab(turnaround, point, plan=plan, meter=meter)

    def send(self, turnaround: Turnaround, *, begins: datetime, plan: Plan = USUAL) -> Script:
        """Send the plate, where the plan has one: after the sanitiser, with its neutraliser."""
        yield begins
        if plan.plate:
            self.send_plate(turnaround, plan=plan)

    def read_swab(
        self, turnaround: Turnaround, point: SamplingPoint, *, plan: Plan, meter: str = "a"
    ) -> Result:
        proved = to_sample(turnaround).moment == SamplingMoment.RINSE_PROVED
        rlu = plan.rlu.get(point.name)
        if rlu is None:
            rlu = self._usual_rlu(point, meter=meter)
        return reading_actions.record_result(
            by=self.stage.by(self.person(plan.who)),
            turnaround=turnaround,
            point=point,
            meter=self.brewery.meters[meter],
            test_lot=self._lot(point),
            rlu=rlu,
            rinse_end="tap" if proved else "neutral",
            note=plan.notes.get(point.name, ""),
        )

    def _usual_rlu(self, point: SamplingPoint, *, meter: str) -> int:
        """What a clean place reads: often 0, and here never over the alert level."""
        most = 15 if point.sample_kind == SampleKind.SURFACE else 8
        seat = fault_of(Code.SEAT)
        worn = (seat.vessel, seat.point) == (point.vessel.name, point.name)
        read = rlu_read(
            self.stage.chance,
            point=point.name,
            kind=point.sample_kind,
            adds_rlu=seat.adds_at(self.stage.days_ago(self.stage.moment)) if worn else 0,
            meter=meter,
        )
        return min(read, most * METER_B_TIMES) if meter == "b" else min(read, most)

    def _lot(self, point: SamplingPoint) -> AtpTestLot:
        """The oldest lot in date, as from a well-kept cold room."""
        day = self.stage.moment.astimezone(self.stage.zone).date()
        return next(
            lot
            for lot in self.brewery.lots
            if lot.atp_test.sample_kind == point.sample_kind and lot.expires_on >= day
        )

    def decide(self, turnaround: Turnaround, outcome: str, *, plan: Plan = USUAL) -> Decision:
        turnaround.refresh_from_db()
        return release_actions.decide(
            by=self.stage.by(self.person(plan.releases)),
            turnaround=turnaround,
            outcome=outcome,
            password=DEMO_PASSWORDS[plan.releases],
            revision_seen=turnaround.revision,
            reason=plan.hold if outcome == "hold" else "",
            gate_reasons=plan.reasons,
        )

    def fill(self, turnaround: Turnaround, *, beer: str, plan: Plan = USUAL) -> None:
        by = self.stage.by(self.person(plan.who))
        contents = self.contents(turnaround.vessel, beer)
        if self.beer_moves.into(turnaround.vessel, beer=beer, by=by):
            return
        through = (self.brewery.vessels["HX 1"],)
        brewed = turnaround.vessel.kind == VesselKind.FERMENTER
        release_actions.fill_vessel(
            by=by,
            turnaround=turnaround,
            filled_at=self.stage.moment,
            through=through if brewed else (),
            **contents,
        )
        if brewed:
            self.beer_moves.pitch(turnaround.vessel, beer=beer, by=by)

    def contents(self, vessel: Vessel, beer: str) -> Contents:
        """What a vessel is filled with: a new batch in a fermenter, else the one at hand."""
        number = (
            self.brewery.brewed if vessel.kind == VesselKind.FERMENTER else self.brewery.at_hand
        )
        return Contents(
            beer=self.brewery.beers[beer],
            batch=number(beer, at=self.stage.moment),
            volume_hl=round(vessel.volume_hl * self.stage.chance.uniform(0.86, 0.95), 2),
        )

    # --- plates -----------------------------------------------------------------------------

    def send_plate(self, turnaround: Turnaround, *, plan: Plan) -> Plate:
        plate = plate_actions.send_plate(
            by=self.stage.by(self.person(plan.who)),
            turnaround=turnaround,
            point=turnaround.vessel.points.get(name=plan.plate),
            medium=plan.medium or (WITHOUT_AIR if plan.positive else "WLN"),
            neutraliser=proposed(taken_in(turnaround, self.stage.moment)),
            incubation_c=28,
            incubation_days=7,
        )
        self.stage.add(self._read_plate(plate, grew=plan.positive))
        return plate

    def _read_plate(self, plate: Plate, *, grew: str) -> Script:
        due = datetime.combine(plate.due_on, datetime.min.time(), tzinfo=self.stage.zone)
        yield due + timedelta(hours=9, minutes=self.stage.chance.randint(0, 50))
        plate_actions.read_plate(
            by=self.stage.by(self.person("mara")),
            plate=plate,
            state=PlateState.POSITIVE if grew else PlateState.NEGATIVE,
            colonies=self.stage.chance.randint(3, 9) if grew else None,
            organism=grew,
        )
