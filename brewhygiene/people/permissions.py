"""Who may do what. Asked by actions and views alike, so a hidden button is never the only guard."""

from collections.abc import Callable, Iterable
from functools import wraps
from typing import Any

from django.contrib.auth.models import AnonymousUser, Permission
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.models import User
from brewhygiene.refusals import NotAllowed

WHAT_IT_TAKES = {
    "work_cellar": "Recording cellar work needs the cellar or head brewer role.",
    "fill_vessel": "Filling a vessel needs the cellar or head brewer role.",
    "decide_release": "Holding or releasing a vessel needs the head brewer role.",
    "record_irregular_fill": "Recording a fill without a release needs the head brewer role.",
    "approve_limits": "Approving limits needs the head brewer role.",
    "read_plates": "Reading plates needs the head brewer role.",
    "edit_setup": "Editing the set-up needs the head brewer role.",
    "manage_people": "Managing people needs the head brewer or owner role.",
    "see_everything": "This page is for the head brewer and the owner.",
}


def held_permissions(user: User | AnonymousUser) -> frozenset[str]:
    """The codenames that a user's roles give. 1 query, kept on the user object.

    A superuser looks after the server; that alone gives nobody a brewer's authority.
    """
    if not isinstance(user, User) or not user.is_active:
        return frozenset()
    cached: frozenset[str] | None = getattr(user, "_held_permissions", None)
    if cached is None:
        cached = frozenset(
            Permission.objects.filter(
                group__user=user, content_type__app_label="brewhygiene"
            ).values_list("codename", flat=True)
        )
        user._held_permissions = cached  # type: ignore[attr-defined]
    return cached


def may(user: User | AnonymousUser, permission: str) -> bool:
    """Whether a user's roles include a permission. 1 query at most."""
    return permission in held_permissions(user)


def may_any(user: User | AnonymousUser, permissions: Iterable[str]) -> bool:
    """Whether a user's roles include at least one of the permissions. 1 query at most."""
    return not held_permissions(user).isdisjoint(permissions)


def require(by: Actor, permission: str, *others: str) -> User:
    """The acting user, or :class:`NotAllowed` when their roles give none of the permissions."""
    user = by.person
    if not may_any(user, (permission, *others)):
        raise NotAllowed(WHAT_IT_TAKES[permission])
    return user


def permission_needed(permission: str, *others: str) -> Callable[..., Any]:
    """Refuse a view with 403 to anyone whose roles give none of the permissions."""

    def decorate(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
        @wraps(view)
        def checked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not may_any(request.user, (permission, *others)):
                raise PermissionDenied(WHAT_IT_TAKES[permission])
            return view(request, *args, **kwargs)

        return checked

    return decorate
