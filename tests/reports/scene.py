"""A turnaround in which everything happens that a record can hold."""

from collections.abc import Mapping
from datetime import timedelta
from itertools import product
from typing import Any

from brewhygiene.atp.readings import actions as reading_actions
from brewhygiene.atp.recovery.actions import record_study
from brewhygiene.ledger.adoption import bind_unbound
from brewhygiene.plates import actions as plate_actions
from brewhygiene.regimes.models import RegimeVersion, Step, StepKind
from brewhygiene.release import actions as release_actions
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import Clean, StepRecord, Turnaround
from brewhygiene.turnarounds.quantities import Titration
from brewhygiene.turnarounds.readings import actions as step_reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from tests.factories import (
    NOW,
    PASSWORD,
    Cellar,
    acting,
    add_step,
    make_agent,
    make_atp_test,
    make_limits,
    make_peracetic,
    make_point,
    make_test_lot,
    make_version,
    seen_well,
)


def hot_caustic() -> RegimeVersion:
    version = make_version(steps=False, name="Hot caustic (invented)", level=3)
    version.provenance = "Common practice, no source"
    version.save()
    add_step(version, StepKind.VENT, end_criterion="vented")
    add_step(
        version,
        StepKind.CAUSTIC,
        agent=make_agent(name="Caustic liquor 50 %"),
        windows={"concentration": (1.5, 3), "temperature_c": (60, 85), "time_min": (20, 45)},
    )
    add_step(version, StepKind.RINSE, end_criterion="neutral")
    add_step(
        version,
        StepKind.SANITISER,
        agent=make_peracetic(name="Peracetic acid 15 %"),
        windows={"concentration": (80, 200), "time_min": (5, 30)},
        basis="mg_l",
    )
    return version


class Story:
    """The scene's brewery, and the hands that write into it. Minutes count from ``NOW``."""

    def __init__(self) -> None:
        self.cellar = Cellar(
            points=0,
            self_release_allowed=True,
            name="Quenlarrow & Ombry (invented)",
            address="2 Millrace, Tolvenhythe (invented)",
            time_zone="Europe/Copenhagen",
        )
        self.vessel = self.cellar.vessel
        self.vessel.name = "FV 3"
        self.vessel.save()
        self.rinse = make_point(self.vessel, name="Cone, last rinse", order=0)
        self.surface = make_point(
            self.vessel, name="Racking arm", order=1, sample_kind="surface", area_cm2=100
        )
        swab = make_atp_test(name="Surface swab", sample_kind="surface")
        self.swab_lot = make_test_lot(swab, lot="SW-7")
        make_limits(
            by=self.cellar.brewer,
            meter=self.cellar.meter,
            atp_test=swab,
            alert_rlu=20,
            action_rlu=60,
        )
        self.version = self.cellar.version = hot_caustic()
        self.cellar.proves_recovery = False
        sanitisers = Step.objects.filter(kind="sanitiser").select_related("agent")
        for step, atp_test in product(sanitisers, (self.cellar.atp_test, swab)):
            assert step.agent is not None
            record_study(
                by=self.by(-60, brewer=True),
                agent=step.agent,
                meter=self.cellar.meter,
                atp_test=atp_test,
                strength_mg_l=200,
                water_rlu=[100, 101, 102],
                sanitiser_rlu=[100, 101, 102],
                done_on=NOW.date(),
                password=PASSWORD,
            )

    def by(self, minute: float, *, brewer: bool = False) -> Any:
        user = self.cellar.brewer if brewer else self.cellar.hand
        return acting(user, now=NOW + timedelta(minutes=minute))

    def start(self, turnaround: Turnaround, minute: float) -> Clean:
        return turnaround_actions.start_clean(
            by=self.by(minute), turnaround=turnaround, version=self.version
        )

    def step(self, clean: Clean, order: int, minute: float) -> StepRecord:
        return self.cellar.step_started(
            clean,
            clean.version.steps.get(order=order),
            now=NOW + timedelta(minutes=minute),
        )

    def read(self, record: StepRecord, quantity: str, minute: float, **values: Any) -> Any:
        return step_reading_actions.record_reading(
            by=self.by(minute), record=record, quantity=quantity, **values
        )

    def end(self, record: StepRecord, minute: float, **values: Any) -> StepRecord:
        if values.get("end_criterion_met"):
            self.cellar.end_read(record, record.step, now=NOW + timedelta(minutes=minute))
        seen = seen_well(record.clean, record.step)
        return step_actions.end_step(
            by=self.by(minute), record=record, **{"observations": seen, **values}
        )

    def clean(self, turnaround: Turnaround, minute: float) -> Clean:
        """A clean without a deviation, 55 minutes long."""
        clean = self.start(turnaround, minute)
        self.end(self.step(clean, 1, minute), minute + 5, end_criterion_met=True)
        caustic = self.step(clean, 2, minute + 6)
        self.read(caustic, "concentration", minute + 10, value=2.1, basis="ww", stage="return")
        self.read(caustic, "temperature_c", minute + 11, value=76, stage="return")
        self.end(caustic, minute + 31, agent_lot="C-118")
        self.end(self.step(clean, 3, minute + 32), minute + 40, end_criterion_met=True)
        sanitiser = self.step(clean, 4, minute + 41)
        self.read(sanitiser, "concentration", minute + 43, value=150, basis="mg_l")
        self.end(sanitiser, minute + 54, agent_lot="P-31")
        return turnaround_actions.finish_clean(by=self.by(minute + 55), clean=clean)

    def sample(self, turnaround: Turnaround, minute: float, **values: Any) -> Any:
        return self.cellar.sampled(turnaround, now=NOW + timedelta(minutes=minute), **values)

    def swab(self, turnaround: Turnaround, minute: float, **values: Any) -> Any:
        return self.sample(turnaround, minute, point=self.surface, test_lot=self.swab_lot, **values)

    def decide(
        self,
        turnaround: Turnaround,
        outcome: str,
        minute: float,
        *,
        reasons: Mapping[str, str] | None = None,
        **values: Any,
    ) -> Any:
        return self.cellar.decided(
            turnaround,
            outcome,
            now=NOW + timedelta(minutes=minute),
            gate_reasons=reasons,
            **values,
        )


def troubled_clean(story: Story, turnaround: Turnaround) -> Clean:
    """The first clean: a slip of the finger, a cold caustic prolonged, a rinse accepted."""
    clean = story.start(turnaround, 10)
    story.end(story.step(clean, 1, 12), 18, end_criterion_met=True)
    caustic = story.step(clean, 2, 20)
    story.read(
        caustic,
        "concentration",
        24,
        titration=Titration(titrant_ml=10.4, titrant_normality=0.5, sample_ml=10),
        stage="return",
    )
    slip = story.read(caustic, "temperature_c", 25, value=7.4, stage="return")
    step_reading_actions.correct_reading(
        by=story.by(26), reading=slip, value=74, reason="A digit was missing"
    )
    story.end(caustic, 32, agent_lot="C-118")
    story.cellar.vessel.refresh_from_db()
    deviation_actions.dispose_deviation(
        by=story.by(33),
        deviation=caustic.deviations.get(quantity="time_min"),
        disposition="extend",
    )
    longer = story.step(clean, 2, 34)
    story.read(longer, "temperature_c", 40, value=72, stage="return")
    story.end(longer, 47)
    rinse = story.step(clean, 3, 48)
    story.end(rinse, 55, end_criterion_met=False, note="Tap itself reads pH 8.2 today")
    deviation_actions.dispose_deviation(
        by=story.by(56),
        deviation=rinse.deviations.get(),
        disposition="accept",
        reason="The rinse reads as the tap does",
    )
    sanitiser = story.step(clean, 4, 57)
    story.read(sanitiser, "concentration", 58, value=140, basis="mg_l")
    story.end(sanitiser, 68, agent_lot="P-31")
    return turnaround_actions.finish_clean(by=story.by(69), clean=clean)


def whole_story() -> tuple[Story, Turnaround]:
    """Held, cleaned again, released, lapsed, re-sanitised, self-released and filled."""
    story = Story()
    bind_unbound(now=NOW)  # what the factories wrote straight into the tables
    cellar = story.cellar
    turnaround = cellar.emptied(note="Yeast cropped before")
    troubled_clean(story, turnaround)
    cellar.checked(now=NOW + timedelta(minutes=70))
    story.sample(turnaround, 72, rlu=3)
    story.swab(turnaround, 74, rlu=180, note="Seam of the arm")
    story.swab(turnaround, 80, rlu=15, suspected_slip=True)
    story.decide(turnaround, "hold", 85, reason="Gasket of the racking arm to be renewed")
    story.clean(turnaround, 100)
    story.sample(turnaround, 160, rlu=12, note="Rinse water blank read 4")
    typed = story.swab(turnaround, 162, rlu=5)
    reading_actions.correct_result(
        by=story.by(164), result=typed, rlu=15, reason="The meter shows 15, not 5"
    )
    plate_actions.send_plate(
        by=story.by(165),
        turnaround=turnaround,
        point=story.surface,
        medium="WLN",
        neutraliser="thiosulfate",
        incubation_c=28,
        incubation_days=5,
    )
    story.decide(
        turnaround, "release", 170, reasons={"alerts": "Blank of the rinse water explains it"}
    )
    turnaround_actions.record_opening(
        by=story.by(200), turnaround=turnaround, reason="Manway gasket looked at"
    )
    clean = release_actions.resanitise(
        by=story.by(210), turnaround=turnaround, version=cellar.resanitise_version
    )
    cellar.run(clean, now=NOW + timedelta(minutes=211))
    story.sample(turnaround, 240, rlu=0, by=cellar.brewer)
    story.swab(turnaround, 242, rlu=8)
    story.decide(
        turnaround,
        "release",
        250,
        reasons={
            "alerts": "As before",
            "two_people": "Jonas had left; nobody else was there",
        },
    )
    cellar.filled(turnaround, now=NOW + timedelta(minutes=260), batch="26-031")
    return story, turnaround
