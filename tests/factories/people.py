"""Breweries, people and what they act as."""

from datetime import datetime
from typing import Any

from django.contrib.auth.models import Group

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.models import User
from brewhygiene.people.roles import CELLAR, HEAD_BREWER, OWNER
from tests import clock
from tests.factories.values import NOW, PASSWORD, next_number


def make_brewery(**values: Any) -> Brewery:
    brewery = Brewery(
        **{"name": "Quenlarrow & Ombry (invented)", "time_zone": clock.zone(), **values}
    )
    brewery.save()
    return brewery


def make_user(*roles: str, username: str = "", **values: Any) -> User:
    number = next_number()
    user = User.objects.create_user(
        username=username or f"person{number}",
        password=PASSWORD,
        **{"full_name": f"Person {number}", "initials": f"P{number % 100}", **values},
    )
    user.groups.set(Group.objects.filter(name__in=roles))
    return user


def make_cellar_hand(**values: Any) -> User:
    return make_user(CELLAR, **values)


def make_head_brewer(**values: Any) -> User:
    return make_user(HEAD_BREWER, **values)


def make_owner(**values: Any) -> User:
    return make_user(OWNER, **values)


def acting(user: User | None, *, now: datetime = NOW, key: str | None = None) -> Actor:
    return Actor(user=user, now=now, address="192.0.2.7", key=key)
