"""A clean of three steps that has begun."""

import pytest

from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.models import Clean
from tests.factories import Cellar, add_step, make_agent, make_version
from tests.turnarounds.steps.refusals.doing import WINDOWS


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


@pytest.fixture
def clean(cellar: Cellar) -> Clean:
    """Running: caustic with three windows, a rinse to neutral, a drain."""
    version = make_version(steps=False)
    add_step(version, StepKind.CAUSTIC, agent=make_agent(), windows=WINDOWS)
    add_step(version, StepKind.RINSE, end_criterion="neutral")
    add_step(version, StepKind.DRAIN)
    cellar.version = version
    return cellar.started(cellar.emptied())
