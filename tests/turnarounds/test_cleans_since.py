"""How many cleans a vessel has had since a step of a kind ran in one."""

from datetime import timedelta

import pytest

from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.queries import cleans_since
from brewhygiene.turnarounds.steps import actions as step_actions
from tests import clock
from tests.factories import acting
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db


def test_only_a_step_that_ran_counts() -> None:
    floor = Floor()
    assert cleans_since(floor.vessel, StepKind.CAUSTIC) == 0
    clean = floor.at_step(2, minutes_ago=120)
    by = acting(floor.hand, now=clock.now() - timedelta(minutes=110))
    step_actions.leave_out_step(
        by=by, clean=clean, step=clean.version.steps.get(order=2), reason="No caustic in the tank"
    )
    deviation_actions.dispose_deviation(
        by=by, deviation=Deviation.objects.get(), disposition="accept", reason="Agreed"
    )
    for order, ago in ((3, 100), (4, 80)):
        floor.run_step(clean, order, now=clock.now() - timedelta(minutes=ago))
    actions.finish_clean(by=acting(floor.hand, now=clock.now()), clean=clean)
    assert cleans_since(floor.vessel, StepKind.CAUSTIC) == 1
