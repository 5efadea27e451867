"""Who looks at the set-up of the cellar."""

import pytest
from django.test import Client

from brewhygiene.cellar.models import Vessel
from brewhygiene.people.models import User
from tests.factories import (
    make_cellar_hand,
    make_head_brewer,
    make_vessel,
)


@pytest.fixture
def brewer() -> User:
    return make_head_brewer()


@pytest.fixture
def desk(client: Client, brewer: User) -> Client:
    """The head brewer, signed in."""
    client.force_login(brewer)
    return client


@pytest.fixture
def tablet(client: Client) -> Client:
    """A cellar hand, signed in."""
    client.force_login(make_cellar_hand())
    return client


@pytest.fixture
def vessel() -> Vessel:
    return make_vessel(name="FV 9")
