"""The invented people's sign-ins, offered while the brewery is the invented one."""

from typing import NamedTuple

from django.conf import settings
from django.utils.module_loading import import_string

from brewhygiene.people.models import User


class SignIn(NamedTuple):
    username: str
    password: str
    role: str
    name: str


def demo_sign_ins() -> list[SignIn]:
    """Those of them that are still there and may sign in. 1 query.

    The list is data of a room upstairs, so the settings name it and nothing here imports it.
    """
    listed: list[tuple[str, str, str]] = import_string(settings.DEMO_SIGN_INS)
    names = {
        user.username: user.display_name
        for user in User.objects.filter(is_active=True, username__in=[row[0] for row in listed])
    }
    return [SignIn(*row, names[row[0]]) for row in listed if row[0] in names]
