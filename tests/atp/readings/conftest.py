"""A cellar floor with a vessel that can be sampled."""

import pytest

from brewhygiene.turnarounds.models import Turnaround
from tests.atp.readings.scenes import cleaned
from tests.turnarounds.floor import Floor


@pytest.fixture
def floor() -> Floor:
    return Floor()


@pytest.fixture
def turnaround(floor: Floor) -> Turnaround:
    """Cleaned 20 minutes ago, the meter checked today."""
    return cleaned(floor)
