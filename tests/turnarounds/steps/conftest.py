"""A floor and a step that runs, for tests of a step's screens."""

import pytest

from brewhygiene.turnarounds.models import StepRecord
from tests.turnarounds.floor import Floor


@pytest.fixture
def floor() -> Floor:
    return Floor()


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    """Hot caustic, running for 10 minutes, nothing read."""
    return floor.running_caustic()
