"""What the invented head brewer makes of the paper year: limits of her own, and a bridge begun."""

import random
from datetime import date, timedelta

from brewhygiene.atp.baselines.actions import create_baseline, exclude_result, propose_from_baseline
from brewhygiene.atp.baselines.queries import baseline_to_study, members_of
from brewhygiene.atp.bridges.actions import PairValues, add_pairs, open_bridge
from brewhygiene.atp.limits.actions import approve_limits
from brewhygiene.atp.models.baselines import Baseline
from brewhygiene.atp.models.causes import FoundCause
from brewhygiene.atp.models.meters import AtpTest
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.demo.brewery import InventedBrewery
from brewhygiene.demo.paper_year.faults import BASELINE_BEGINS, BASELINE_ENDS, METER_BACK
from brewhygiene.demo.people import DEMO_PASSWORDS
from brewhygiene.demo.readings import both_meters
from brewhygiene.demo.stage import Script, Stage
from brewhygiene.science.limits.asked import Asked

# The day after the log was typed in.
STUDIED_ON = 43
# Counts with many zeros; a bound without any distribution would ask for more readings.
METHOD = "counts"
# Of a hundred clean readings one may lie over the alert level, of a thousand two over the limit.
ASKED = Asked(alert_coverage=0.99, action_coverage=0.998)
PAIRS_A_DAY = 9


class Studies:
    """Baselines of both sample kinds, approved limits from them, pairs of both meters."""

    def __init__(self, stage: Stage, brewery: InventedBrewery) -> None:
        self.stage = stage
        self.brewery = brewery
        self.chance = random.Random(20260313)

    def scripts(self) -> list[Script]:
        return [self.limits(), self.bridge()]

    def _day(self, days_ago: int) -> date:
        return self.stage.at(days_ago, "12:00").astimezone(self.stage.zone).date()

    def _swabs(self) -> dict[str, AtpTest]:
        return {lot.atp_test.sample_kind: lot.atp_test for lot in self.brewery.lots}

    def limits(self) -> Script:
        mara = self.brewery.people["mara"]
        yield self.stage.at(STUDIED_ON, "14:10")
        for kind, atp_test in self._swabs().items():
            baseline = create_baseline(
                by=self.stage.by(mara),
                name=f"The good half year, {kind} samples",
                meter=self.brewery.meters["a"],
                atp_test=atp_test,
                since=self._day(BASELINE_BEGINS),
                until=self._day(BASELINE_ENDS),
                points=SamplingPoint.objects.filter(
                    sample_kind=kind, moment=SamplingMoment.BEFORE_SANITISER
                ),
            )
            yield from self._kept_out(baseline)
            yield self.stage.moment + timedelta(minutes=8)
            limits = propose_from_baseline(
                by=self.stage.by(mara),
                baseline=baseline,
                method=METHOD,
                asked=ASKED,
                review_on=self._day(STUDIED_ON - 183),
                valid_until=self._day(STUDIED_ON - 365),
            )
            yield self.stage.moment + timedelta(minutes=4)
            approve_limits(by=self.stage.by(mara), limits=limits, password=DEMO_PASSWORDS["mara"])

    def _kept_out(self, baseline: Baseline) -> Script:
        """Readings whose cause was found say nothing of a clean vessel."""
        members = members_of(baseline_to_study().get(pk=baseline.pk)).counted
        found = FoundCause.objects.filter(result__in=[member.pk for member in members])
        for cause in found.select_related("result"):
            assert cause.result is not None
            yield self.stage.moment + timedelta(minutes=1)
            exclude_result(
                by=self.stage.by(self.brewery.people["mara"]),
                baseline=baseline,
                result=cause.result,
                reason=f"{cause.get_cause_display()}: {cause.note}",
            )

    def bridge(self) -> Script:
        """Places read with both meters, dirty and clean, once meter A was back; not signed yet."""
        mara = self.brewery.people["mara"]
        yield self.stage.at(STUDIED_ON, "15:30")
        swabs = self._swabs()["surface"]
        bridge = open_bridge(
            by=self.stage.by(mara),
            reference_meter=self.brewery.meters["a"],
            reference_atp_test=swabs,
            new_meter=self.brewery.meters["b"],
            new_atp_test=swabs,
        )
        for days in range(4):
            yield self.stage.moment + timedelta(minutes=6)
            rows = [both_meters(self.chance) for _ in range(PAIRS_A_DAY)]
            values = [PairValues(reference_rlu=a, new_rlu=b) for a, b in rows]
            if days == 1:
                values.append(PairValues(None, rows[0][1], note="Meter A's battery was empty"))
            add_pairs(
                by=self.stage.by(mara),
                bridge=bridge,
                rows=values,
                taken_at=self.stage.at(METER_BACK - 2 - days, "10:40"),
            )
