import pytest

from tests.batches.scenes import Brewhouse


@pytest.fixture
def house(db: None) -> Brewhouse:
    return Brewhouse()
