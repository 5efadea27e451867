"""The invented people's sign-ins, offered while the brewery is the invented one."""

from typing import NamedTuple

from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.utils.module_loading import import_string

from brewhygiene.people.models import User


class SignIn(NamedTuple):
    username: str
    password: str
    role: str
    name: str
    pin: str


def demo_sign_ins() -> list[SignIn]:
    """Those of them that are still there and may sign in. 1 query.

    The list is data of a room upstairs, so the settings name it and nothing here imports it.
    """
    listed: list[tuple[str, str, str]] = import_string(settings.DEMO_SIGN_INS)
    names = {
        user.username: user.display_name
        for user in User.objects.filter(is_active=True, username__in=[row[0] for row in listed])
    }
    pins = _pins()
    return [
        SignIn(*row, name=names[row[0]], pin=pins.get(row[0], ""))
        for row in listed
        if row[0] in names
    ]


def _pins() -> dict[str, str]:
    found: dict[str, str] = import_string(settings.DEMO_PINS)
    return found


def demo_pin(person: User) -> str:
    """The invented PIN of an invented person, as long as it is still theirs; else ''."""
    pin = _pins().get(person.username, "")
    return pin if pin and check_password(pin, person.pin_hash) else ""
