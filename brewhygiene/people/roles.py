"""The three roles, as Django groups, and what each may do."""

from typing import Any

CELLAR = "cellar"
HEAD_BREWER = "head brewer"
OWNER = "owner"
ROLES = (CELLAR, HEAD_BREWER, OWNER)
# Those whose password stands under a release, limits or a plate.
SIGNING_ROLES = (HEAD_BREWER,)

ROLE_PERMISSIONS: dict[str, frozenset[str]] = {
    CELLAR: frozenset({"work_cellar", "fill_vessel"}),
    HEAD_BREWER: frozenset(
        {
            "work_cellar",
            "fill_vessel",
            "decide_release",
            "record_irregular_fill",
            "approve_limits",
            "read_plates",
            "edit_setup",
            "manage_people",
            "see_everything",
        }
    ),
    OWNER: frozenset({"manage_people", "see_everything"}),
}


def grant_role_permissions(sender: Any = None, **kwargs: Any) -> None:
    """Create the groups and give each its permissions; runs after every migration."""
    from django.apps import apps
    from django.contrib.auth.management import create_permissions
    from django.contrib.auth.models import Group, Permission

    # The order of post_migrate receivers is not promised, so make sure they exist.
    create_permissions(apps.get_app_config("brewhygiene"), verbosity=0)
    for role, codenames in ROLE_PERMISSIONS.items():
        group, _ = Group.objects.get_or_create(name=role)
        group.permissions.set(
            Permission.objects.filter(
                content_type__app_label="brewhygiene",
                content_type__model="user",
                codename__in=codenames,
            )
        )
