"""Somebody signed in, at a brewery that reads °C, hL and L/min."""

import pytest
from django.test import Client

from brewhygiene.brewery.models import Brewery
from tests.factories import make_brewery, make_user


@pytest.fixture
def brewery() -> Brewery:
    return make_brewery()


@pytest.fixture
def american() -> Brewery:
    return make_brewery(temperature_unit="F", volume_unit="bbl", flow_unit="gpm")


@pytest.fixture
def client() -> Client:
    """A person without any role: the bench is for everybody who is signed in."""
    client = Client()
    client.force_login(make_user())
    return client
