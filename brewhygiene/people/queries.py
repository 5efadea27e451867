"""Reads about people that more than one caller needs."""

from django.db.models import QuerySet

from brewhygiene.people.models import User


def people_for_setup() -> QuerySet[User]:
    """Everybody, those who may sign in first, with their groups. 2 queries."""
    return User.objects.prefetch_related("groups").order_by("-is_active", "full_name", "username")


def people_at_hand() -> QuerySet[User]:
    """Who may take over a tablet. 1 query."""
    return User.objects.filter(is_active=True).order_by("full_name", "username")


def people_who_may(*permissions: str) -> QuerySet[User]:
    """Everybody active whose roles give at least one of the permissions. 1 query."""
    return (
        people_at_hand()
        .filter(
            groups__permissions__content_type__app_label="brewhygiene",
            groups__permissions__codename__in=permissions,
        )
        .distinct()
    )
