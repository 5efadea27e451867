"""A ledger with real work in it, all of whose rows are bound."""

import pytest

from brewhygiene.ledger.adoption import bind_unbound
from tests.factories import NOW, Cellar


@pytest.fixture
def cellar() -> Cellar:
    """A cellar whose furniture, which the factories write straight into the tables, is bound."""
    made = Cellar()
    bind_unbound(now=NOW)
    return made
