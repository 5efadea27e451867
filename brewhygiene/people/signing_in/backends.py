"""Signing in by PIN, for everyday work on a shared tablet."""

from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.contrib.auth.hashers import check_password
from django.http import HttpRequest

from brewhygiene.people.models import User


class PinBackend(ModelBackend):
    """A username with a PIN instead of the password.

    How guessing slows down is in ``pins``. Who looks after the server gets in by password only:
    four digits must not open the admin site.
    """

    # The name holds "secret" so that Django masks it in what it tells of a failed attempt.
    def authenticate(  # type: ignore[override]
        self,
        request: HttpRequest | None,
        username: str | None = None,
        secret_pin: str | None = None,
        **kwargs: Any,
    ) -> User | None:
        if not username or not secret_pin:
            return None
        user = User.objects.filter(username=username).first()
        if user is None or not self.user_can_authenticate(user) or not may_use_pin(user):
            return None
        return user if check_password(secret_pin, user.pin_hash) else None

    def get_user(self, user_id: int) -> User | None:
        """Whose session it is; one opened by PIN ends when its owner gets the server's keys."""
        user = super().get_user(user_id)
        assert user is None or isinstance(user, User)
        return None if user is None or user.is_staff or user.is_superuser else user


def may_use_pin(user: User) -> bool:
    """Whether this person's PIN, once set, opens anything."""
    return bool(user.pin_hash) and not user.is_staff and not user.is_superuser
