"""A brewhouse with a beer that has milk, and a regime that can be validated."""

import pytest

from tests.changeovers.scenes import Dairy


@pytest.fixture
def house(db: None) -> Dairy:
    return Dairy()
