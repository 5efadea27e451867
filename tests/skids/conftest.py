"""A brewery with a skid."""

import pytest

from tests.skids.scenes import SkidCellar


@pytest.fixture
def house(db: None) -> SkidCellar:
    return SkidCellar()
