"""A brewery with a skid of two tanks, a portable set and a hose, and what is done with them."""

from datetime import datetime, timedelta
from typing import Any

from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.regimes.models import Agent, RegimeVersion
from brewhygiene.skids.gear import actions as gear_actions
from brewhygiene.skids.gear.actions import SkidValues, TankValues
from brewhygiene.skids.models import Skid, Solution, SolutionTank
from brewhygiene.skids.queries import solutions, states_of
from brewhygiene.skids.solutions import actions as solution_actions
from brewhygiene.skids.state import SolutionState
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.models import Clean, StepRecord, Turnaround
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.steps import actions as step_actions
from brewhygiene.turnarounds.steps.safety import required_codes
from brewhygiene.turnarounds.steps.solutions.drawing import NOT_SAID, Draws
from tests.factories import (
    COMMON,
    NOW,
    PASSWORD,
    Cellar,
    acting,
    add_step,
    make_agent,
    make_version,
    make_vessel,
    seen_well,
)

STEEL = "stainless_304"


class SkidCellar(Cellar):
    """With Skid 1 and its caustic tank; other vessels, regimes and gear as they are asked for."""

    def __init__(self, **brewery: Any) -> None:
        super().__init__(**brewery)
        self.caustic = make_agent(name="Caustic liquor (invented)", price_kg=0.8)
        self.other_vessel = make_vessel(name="FV 99")
        self.skid = self.made_skid("Skid 1")
        self.tank = self.made_tank("Caustic tank 1")

    def made_skid(self, name: str, kind: str = "skid", **values: Any) -> Skid:
        return gear_actions.save_skid(
            by=acting(self.brewer),
            values=SkidValues(
                **{
                    "name": name,
                    "kind": kind,
                    "material": STEEL,
                    "seal_material": "unknown",
                    **values,
                }
            ),
            password=PASSWORD,
        )

    def made_tank(self, name: str, skid: Skid | None = None, **values: Any) -> SolutionTank:
        return gear_actions.save_tank(
            by=acting(self.brewer),
            skid=skid or self.skid,
            values=TankValues(
                **{
                    "name": name,
                    "material": STEEL,
                    "volume_hl": 5,
                    "rule_source": COMMON,
                    **values,
                }
            ),
            password=PASSWORD,
        )

    def ruled(self, **rule: Any) -> None:
        """The caustic tank by another dump rule."""
        self.tank = gear_actions.save_tank(
            by=acting(self.brewer),
            skid=self.skid,
            tank=self.tank,
            values=TankValues(
                **{
                    "name": self.tank.name,
                    "material": STEEL,
                    "volume_hl": 5,
                    "rule_source": COMMON,
                    **rule,
                }
            ),
            password=PASSWORD,
        )

    def made_up(
        self,
        tank: SolutionTank | None = None,
        agent: Agent | None = None,
        *,
        now: datetime = NOW,
        **values: Any,
    ) -> Solution:
        return solution_actions.make_up(
            by=acting(self.hand, now=now),
            tank=tank or self.tank,
            agent=agent or self.caustic,
            **{
                "agent_lot": "C-1",
                "volume_l": 400,
                "strength": 2,
                "basis": "ww",
                "source": ValueSource.CALCULATED,
                **values,
            },
        )

    def dumped(self, solution: Solution, *, now: datetime = NOW, reason: str = "renewed") -> None:
        solution_actions.dump(by=acting(self.hand, now=now), solution=solution, reason=reason)

    def rinsed(self, gear: Skid | SolutionTank, *, value: float = 7.3, now: datetime = NOW) -> Any:
        return solution_actions.record_rinse(
            by=acting(self.hand, now=now), gear=gear, quantity="ph", value=value, supply_value=7.2
        )

    def state(self, solution: Solution, *, now: datetime = NOW) -> SolutionState:
        return states_of([solutions().get(pk=solution.pk)], now=now)[0]

    def regime(self, *steps: tuple[str, Agent | None, str]) -> RegimeVersion:
        """A regime of steps, each a kind, an agent and an end."""
        version = make_version(steps=False)
        for kind, agent, end in steps:
            add_step(version, kind, agent=agent, end_criterion=end)
        return version

    def began(
        self,
        version: RegimeVersion,
        *,
        vessel: Vessel | None = None,
        now: datetime = NOW,
        turnaround: Turnaround | None = None,
        **values: Any,
    ) -> Clean:
        turnaround = turnaround or self.emptied(now=now, vessel=vessel)
        return actions.start_clean(
            by=acting(self.hand, now=now),
            turnaround=turnaround,
            version=version,
            weaker_reason="A test",
            **{"skid": self.skid, **values},
        )

    def step_begun(
        self, clean: Clean, order: int, draws: Draws = NOT_SAID, *, now: datetime = NOW
    ) -> StepRecord:
        """Every caution acknowledged, the step begun with what it draws."""
        clean = cleans_with_records().get(pk=clean.pk)
        step = progress_of(clean).steps[order - 1].step
        by = acting(self.hand, now=now)
        if codes := required_codes(clean, step):
            step_actions.acknowledge_safety(by=by, clean=clean, step=step, codes=codes)
        return step_actions.start_step(by=by, clean=clean, step=step, draws=draws)

    def step_done(
        self,
        clean: Clean,
        order: int,
        draws: Draws = NOT_SAID,
        *,
        now: datetime = NOW,
        met: bool | None = None,
        outflow: str = "returned",
    ) -> StepRecord:
        record = self.step_begun(clean, order, draws, now=now)
        if met:
            self.end_read(record, record.step, now=now)
        return step_actions.end_step(
            by=acting(self.hand, now=now + timedelta(minutes=5)),
            record=record,
            end_criterion_met=met,
            outflow=outflow,
            observations=seen_well(clean, record.step),
        )

    def stopped(self, clean: Clean, *, now: datetime = NOW) -> None:
        actions.stop_clean(by=acting(self.hand, now=now), clean=clean, reason="The pump failed")

    def used(
        self, solution: Solution, *, vessel: Vessel | None = None, now: datetime = NOW,
        reason: str = "", outflow: str = "returned",
    ) -> StepRecord:  # fmt: skip
        """A caustic step of a clean that is then stopped, which draws from a solution."""
        vessel = vessel or make_vessel()
        version = self.regime(("caustic", solution.agent, ""))
        clean = self.began(version, vessel=vessel, now=now)
        record = self.step_done(
            clean, 1, Draws(solution=solution, reason=reason), now=now, outflow=outflow
        )
        self.stopped(clean, now=now + timedelta(minutes=6))
        return record
