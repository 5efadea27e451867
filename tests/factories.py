"""Invented things for tests, made through the product's own verbs where a verb exists."""

import itertools
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.contrib.auth.models import Group

from brewhygiene.atp.limits import actions as limit_actions
from brewhygiene.atp.meters import actions as meter_actions
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.readings import actions as reading_actions
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Beer, Fill, SamplingPoint, Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.models import User
from brewhygiene.people.roles import CELLAR, HEAD_BREWER, OWNER
from brewhygiene.regimes.models import (
    Agent,
    Regime,
    RegimeVersion,
    Step,
    StepKind,
    StepWindow,
)
from brewhygiene.release import actions as release_actions
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.models import Clean, StepRecord, Turnaround
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.readings import actions as step_reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from brewhygiene.turnarounds.steps.safety import required_codes
from tests import clock

PASSWORD = "wort-before-noon"
NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
COMMON = "common practice, no source"
_serial = itertools.count(1)


def count_from_one() -> None:
    """Called before each test, so that its names are the same whatever ran before."""
    global _serial
    _serial = itertools.count(1)


def make_brewery(**values: Any) -> Brewery:
    brewery = Brewery(
        **{"name": "Quenlarrow & Ombry (invented)", "time_zone": clock.zone(), **values}
    )
    brewery.save()
    return brewery


def make_user(*roles: str, username: str = "", **values: Any) -> User:
    number = next(_serial)
    user = User.objects.create_user(
        username=username or f"person{number}",
        password=PASSWORD,
        **{"full_name": f"Person {number}", "initials": f"P{number % 100}", **values},
    )
    user.groups.set(Group.objects.filter(name__in=roles))
    return user


def make_cellar_hand(**values: Any) -> User:
    return make_user(CELLAR, **values)


def make_head_brewer(**values: Any) -> User:
    return make_user(HEAD_BREWER, **values)


def make_owner(**values: Any) -> User:
    return make_user(OWNER, **values)


def acting(user: User | None, *, now: datetime = NOW, key: str | None = None) -> Actor:
    return Actor(user=user, now=now, address="192.0.2.7", key=key)


def make_beer(**values: Any) -> Beer:
    return Beer.objects.create(**{"name": f"Beer {next(_serial)}", **values})


def make_vessel(*, points: int = 1, **values: Any) -> Vessel:
    number = next(_serial)
    vessel = Vessel.objects.create(
        **{
            "name": f"FV{number}",
            "kind": "fermenter",
            "volume_hl": 30,
            "diameter_m": 1.4,
            "pressure_rating_bar": 2,
            "vacuum_rating_mbar": 50,
            **values,
        }
    )
    for order in range(points):
        make_point(vessel, name=f"Point {order + 1}", order=order)
    return vessel


def make_point(vessel: Vessel, **values: Any) -> SamplingPoint:
    return SamplingPoint.objects.create(
        vessel=vessel,
        **{
            "name": f"Point {next(_serial)}",
            "sample_kind": "rinse",
            "code": f"T{next(_serial):07d}",
            **values,
        },
    )


def make_agent(**values: Any) -> Agent:
    return Agent.objects.create(
        **{
            "name": f"Caustic liquor {next(_serial)}",
            "kind": "caustic",
            "active_substance": "NaOH",
            "concentrate_strength_ww": 50,
            "concentrate_density_kg_l": 1.525,
            **values,
        }
    )


def make_peracetic(**values: Any) -> Agent:
    return make_agent(
        **{
            "name": f"Peracetic acid {next(_serial)}",
            "kind": "sanitiser",
            "active_substance": "PAA",
            "concentrate_strength_ww": 15,
            "concentrate_density_kg_l": 1.15,
            "no_rinse_allowed": True,
            "no_rinse_max_mg_l": 200,
            "no_rinse_source": "from memory",
            **values,
        }
    )


def add_step(
    version: RegimeVersion,
    kind: str,
    *,
    agent: Agent | None = None,
    windows: Mapping[str, tuple[float | None, float | None]] | None = None,
    basis: str = "ww",
    **values: Any,
) -> Step:
    """A step with windows given as ``{quantity: (minimum, maximum)}``."""
    step = Step.objects.create(
        version=version, order=version.steps.count() + 1, kind=kind, agent=agent, **values
    )
    for quantity, (minimum, maximum) in (windows or {}).items():
        StepWindow.objects.create(
            step=step,
            quantity=quantity,
            minimum=minimum,
            maximum=maximum,
            basis=basis if quantity == "concentration" else "",
            source=COMMON,
        )
    return step


def make_version(*, steps: bool = True, **values: Any) -> RegimeVersion:
    """A regime's first version; with ``steps``: rinse, then peracetic acid."""
    regime = Regime.objects.create(
        **{
            "name": f"Regime {next(_serial)}",
            "vessel_kinds": ["fermenter"],
            "level": 3,
            **values,
        }
    )
    version = RegimeVersion.objects.create(regime=regime, number=1, created_at=NOW)
    if steps:
        add_step(version, StepKind.RINSE, windows={"time_min": (0, 60)})
        add_step(
            version,
            StepKind.SANITISER,
            agent=make_peracetic(),
            windows={"concentration": (80, 200)},
            basis="mg_l",
        )
    return version


def make_resanitise_version(**values: Any) -> RegimeVersion:
    return make_version(resanitises_only=True, level=1, **values)


def make_meter(**values: Any) -> Meter:
    number = next(_serial)
    return Meter.objects.create(
        **{
            "name": f"Meter {number}",
            "serial": f"S-{number}",
            "blank_max_rlu": 5,
            "positive_min_rlu": 100,
            "positive_max_rlu": 400,
            **values,
        }
    )


def make_atp_test(**values: Any) -> AtpTest:
    return AtpTest.objects.create(
        **{"name": f"Rinse sampler {next(_serial)}", "sample_kind": "rinse", **values}
    )


def make_test_lot(atp_test: AtpTest | None = None, **values: Any) -> AtpTestLot:
    return AtpTestLot.objects.create(
        atp_test=atp_test or make_atp_test(),
        **{"lot": f"L{next(_serial)}", "expires_on": date(2027, 1, 31), **values},
    )


def make_limits(
    *,
    by: User,
    meter: Meter,
    atp_test: AtpTest,
    alert_rlu: int = 10,
    action_rlu: int = 30,
    point: SamplingPoint | None = None,
    now: datetime = NOW - timedelta(days=1),
) -> LimitSet:
    """Approved limits."""
    limits = limit_actions.propose_limits(
        by=acting(by, now=now),
        meter=meter,
        atp_test=atp_test,
        alert_rlu=alert_rlu,
        action_rlu=action_rlu,
        source="maker",
        source_note="The maker's leaflet (invented)",
        review_on=date(2027, 3, 1),
        point=point,
    )
    return limit_actions.approve_limits(by=acting(by, now=now), limits=limits, password=PASSWORD)


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

    def started(self, turnaround: Turnaround, *, now: datetime = NOW) -> Clean:
        return turnaround_actions.start_clean(
            by=acting(self.hand, now=now), turnaround=turnaround, version=self.version
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
            now += timedelta(minutes=10)
            step_actions.end_step(
                by=acting(self.hand, now=now),
                record=record,
                end_criterion_met=True if step.end_criterion else None,
            )
        return turnaround_actions.finish_clean(by=acting(self.hand, now=now), clean=clean)

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
        return reading_actions.record_result(
            by=acting(by or self.hand, now=now),
            turnaround=turnaround,
            rlu=rlu,
            **{
                "point": turnaround.vessel.points.order_by("order").first(),
                "meter": self.meter,
                "test_lot": self.lot,
                "rinse_end": "sanitiser_left",
                "stage": "after_sanitiser",
                **values,
            },
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
                "batch": f"B{next(_serial)}",
                "volume_hl": 25,
                "filled_at": now,
                **values,
            },
        )
