"""A small brewery that is ready to work."""

from datetime import datetime, timedelta
from typing import Any

from brewhygiene.atp.meters import actions as meter_actions
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.models.recovery import RecoveryStudy
from brewhygiene.atp.readings import actions as reading_actions
from brewhygiene.atp.recovery.actions import record_study
from brewhygiene.cellar.models import Fill, SamplingPoint, Vessel
from brewhygiene.people.models import User
from brewhygiene.regimes.models import Agent, EndCriterion, Quantity, Step
from brewhygiene.release import actions as release_actions
from brewhygiene.release.models import Decision
from brewhygiene.release.powers.explaining import Explanation, ReleaseCause
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.deviations.actions import dispose_deviation
from brewhygiene.turnarounds.models import Clean, ReadingStage, StepRecord, Turnaround
from brewhygiene.turnarounds.models.deviations import DeviationKind
from brewhygiene.turnarounds.observations.asked import asked_observations
from brewhygiene.turnarounds.observations.keeping import Seen
from brewhygiene.turnarounds.progress import MEASURED_ENDS, progress_of
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.readings import actions as step_reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from brewhygiene.turnarounds.steps.safety import required_codes
from tests.factories.meters import (
    make_atp_test,
    make_limits,
    make_meter,
    make_recovery_study,
    make_test_lot,
)
from tests.factories.people import (
    acting,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_owner,
)
from tests.factories.regimes import make_resanitise_version, make_version
from tests.factories.values import NOW, PASSWORD, next_number
from tests.factories.vessels import make_beer, make_vessel


def because(text: str) -> Explanation:
    """An explanation that stands, made of one remark."""
    return Explanation(
        cause=ReleaseCause.NOT_FOUND,
        checked=f"{text}, so the point was read twice",
        result=f"{text}, and both readings agree",
    )


def because_typed(code: str, text: str) -> dict[str, str]:
    """The same as it is typed into the fields of a check."""
    given = because(text)
    return {
        f"reason_{code}": given.cause,
        f"checked_{code}": given.checked,
        f"result_{code}": given.result,
    }


def seen_well(clean: Clean, step: Step) -> list[Seen]:
    """A yes to every observation that a step asks for."""
    return [Seen(one, yes=True) for one in asked_observations(clean, step)]


class Cellar:
    """A small brewery that is ready to work, with short cuts through its verbs."""

    def __init__(self, *, points: int = 1, **brewery: Any) -> None:
        self.brewery = make_brewery(**brewery)
        self.hand = make_cellar_hand(full_name="Jonas Feld", initials="JF")
        self.brewer = make_head_brewer(full_name="Mara Oduya", initials="MO")
        self.owner = make_owner(full_name="Tomas Brandt", initials="TB")
        self.pale = make_beer(name="Harrow Pale (invented)")
        self.vessel = make_vessel(points=points)
        self.version = make_version()
        self.resanitise_version = make_resanitise_version()
        self.meter = make_meter()
        self.atp_test = make_atp_test()
        self.lot = make_test_lot(self.atp_test)
        self.limits = make_limits(by=self.brewer, meter=self.meter, atp_test=self.atp_test)
        # Its samples are taken in the sanitiser, of which is proved that it does not matter.
        self.proves_recovery = True

    @property
    def point(self) -> SamplingPoint:
        return self.vessel.points.get(order=0)

    def emptied(
        self, *, now: datetime = NOW, vessel: Vessel | None = None, **values: Any
    ) -> Turnaround:
        return turnaround_actions.empty_vessel(
            by=acting(self.hand, now=now),
            vessel=vessel or self.vessel,
            emptied_at=now,
            **{"beer": self.pale, **values},
        )

    def checked(self, *, now: datetime = NOW, meter: Meter | None = None) -> Any:
        return meter_actions.record_control_check(
            by=acting(self.hand, now=now),
            meter=meter or self.meter,
            blank_rlu=0,
            positive_rlu=200,
        )

    def started(
        self, turnaround: Turnaround, *, now: datetime = NOW, weaker_reason: str = ""
    ) -> Clean:
        return turnaround_actions.start_clean(
            by=acting(self.hand, now=now),
            turnaround=turnaround,
            version=self.version,
            weaker_reason=weaker_reason,
        )

    def step_started(self, clean: Clean, step: Step, *, now: datetime = NOW) -> StepRecord:
        """Every caution acknowledged, the step begun."""
        clean = cleans_with_records().get(pk=clean.pk)
        step = progress_of(clean).of(step).step
        by = acting(self.hand, now=now)
        codes = required_codes(clean, step)
        if codes:
            step_actions.acknowledge_safety(by=by, clean=clean, step=step, codes=codes)
        return step_actions.start_step(by=by, clean=clean, step=step)

    def run(self, clean: Clean, *, now: datetime = NOW) -> Clean:
        """Every step of a clean, read in the middle of its windows, 10 minutes each."""
        for step in clean.version.steps.order_by("order"):
            record = self.step_started(clean, step, now=now)
            for window in step.windows.exclude(quantity="time_min"):
                bounds = [b for b in (window.minimum, window.maximum) if b is not None]
                step_reading_actions.record_reading(
                    by=acting(self.hand, now=now),
                    record=record,
                    quantity=window.quantity,
                    value=sum(bounds) / len(bounds),
                    basis=window.basis,
                )
            self.end_read(record, step, now=now)
            now += timedelta(minutes=10)
            step_actions.end_step(
                by=acting(self.hand, now=now),
                record=record,
                end_criterion_met=True if step.end_criterion else None,
                outflow="dumped",
                observations=seen_well(clean, step),
            )
            # Sampled later, if at all: whoever runs a whole clean by this has not stopped to.
            for missed in record.deviations.filter(kind=DeviationKind.NOT_SAMPLED):
                dispose_deviation(
                    by=acting(self.hand, now=now),
                    deviation=missed,
                    disposition="accept",
                    reason="Sampled after the clean",
                )
        return turnaround_actions.finish_clean(by=acting(self.hand, now=now), clean=clean)

    def end_read(self, record: StepRecord, step: Step, *, now: datetime = NOW) -> None:
        """What shows that the end of a step is reached, read as it should be."""
        if step.end_criterion == EndCriterion.VENTED:
            step_reading_actions.record_reading(
                by=acting(self.hand, now=now),
                record=record,
                quantity=Quantity.CO2_PCT,
                value=0.5,
                stage=ReadingStage.END,
            )
        quantity = MEASURED_ENDS.get(step.end_criterion)
        if quantity is None:
            return
        value = 7.2 if quantity == Quantity.PH else 0.5
        stages = [ReadingStage.END]
        if step.end_criterion != EndCriterion.NEUTRAL:
            stages.insert(0, ReadingStage.SUPPLY)
        for stage in stages:
            step_reading_actions.record_reading(
                by=acting(self.hand, now=now),
                record=record,
                quantity=quantity,
                value=value,
                stage=stage,
            )

    def cleaned(self, *, now: datetime = NOW, vessel: Vessel | None = None) -> Turnaround:
        """Emptied and cleaned, 20 minutes later, and the meter checked."""
        turnaround = self.emptied(now=now, vessel=vessel)
        self.run(self.started(turnaround, now=now), now=now)
        self.checked(now=now)
        return turnaround

    def sampled(
        self,
        turnaround: Turnaround,
        *,
        rlu: int = 0,
        now: datetime = NOW + timedelta(minutes=30),
        by: User | None = None,
        **values: Any,
    ) -> Result:
        if self.proves_recovery:
            self._prove_recovery(
                turnaround,
                meter=values.get("meter", self.meter),
                atp_test=values.get("test_lot", self.lot).atp_test,
            )
        return reading_actions.record_result(
            by=acting(by or self.hand, now=now),
            turnaround=turnaround,
            rlu=rlu,
            **{
                "point": turnaround.vessel.points.order_by("order").first(),
                "meter": self.meter,
                "test_lot": self.lot,
                "rinse_end": "sanitiser_left",
                **values,
            },
        )

    def _prove_recovery(self, turnaround: Turnaround, *, meter: Meter, atp_test: AtpTest) -> None:
        """A study of each sanitiser of this turnaround, where there is none yet."""
        scale = {"meter": meter, "atp_test": atp_test}
        for agent in Agent.objects.filter(
            kind="sanitiser",
            pk__in=Step.objects.filter(version__cleans__turnaround=turnaround).values("agent"),
        ):
            if not RecoveryStudy.objects.filter(agent=agent, **scale).exists():
                make_recovery_study(by=self.brewer, agent=agent, **scale)

    def recovery_recorded(self, *, now: datetime = NOW) -> None:
        """A study of the regime's sanitiser by the action, with its entry, before any sample."""
        self.proves_recovery = False
        record_study(
            by=acting(self.brewer, now=now),
            agent=self.version.steps.get(kind="sanitiser").agent,
            meter=self.meter,
            atp_test=self.atp_test,
            strength_mg_l=200,
            water_rlu=[100, 101, 102],
            sanitiser_rlu=[100, 101, 102],
            done_on=now.date(),
            password=PASSWORD,
        )

    def decided(
        self,
        turnaround: Turnaround,
        outcome: str = "release",
        *,
        now: datetime = NOW + timedelta(minutes=40),
        by: User | None = None,
        **values: Any,
    ) -> Decision:
        turnaround.refresh_from_db()
        if given := values.get("gate_reasons"):
            values["gate_reasons"] = {
                code: because(each) if isinstance(each, str) else each
                for code, each in given.items()
            }
            if "nothing_over_action" in given and "second_signer" not in values:
                values |= {"second_signer": make_cellar_hand(), "second_secret": PASSWORD}
        return release_actions.decide(
            by=acting(by or self.brewer, now=now),
            turnaround=turnaround,
            outcome=outcome,
            **{
                "password": PASSWORD,
                "revision_seen": turnaround.revision,
                "reason": "Not sure of it" if outcome == "hold" else "",
                **values,
            },
        )

    def released(self, *, now: datetime = NOW, vessel: Vessel | None = None) -> Turnaround:
        """Cleaned, sampled clear and released, 40 minutes after it was emptied."""
        turnaround = self.cleaned(now=now, vessel=vessel)
        self.sampled(turnaround, now=now + timedelta(minutes=30))
        self.decided(turnaround, now=now + timedelta(minutes=40))
        return turnaround

    def filled(
        self,
        turnaround: Turnaround,
        *,
        now: datetime = NOW + timedelta(minutes=50),
        by: User | None = None,
        **values: Any,
    ) -> Fill:
        return release_actions.fill_vessel(
            by=acting(by or self.hand, now=now),
            turnaround=turnaround,
            **{
                "beer": self.pale,
                "batch": f"B{next_number()}",
                "volume_hl": 25,
                "filled_at": now,
                **values,
            },
        )
