"""Actions across rooms: the first person of an empty installation, and the release rules."""

from collections.abc import Collection

from brewhygiene.brewery.actions import change_brewery, locked_brewery
from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.changes import change
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.actions import create_person, roles_of
from brewhygiene.people.models import User
from brewhygiene.people.permissions import require
from brewhygiene.people.roles import HEAD_BREWER, OWNER
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal
from brewhygiene.release.gates import GATE_TITLES, NEVER_WAIVABLE

FIRST_ROLES = (HEAD_BREWER, OWNER)


def waivable_choices() -> list[tuple[str, str]]:
    """The checks that a brewery may allow to be waived, in their order."""
    return [(code, title) for code, title in GATE_TITLES.items() if code not in NEVER_WAIVABLE]


@action("set up first person")
def set_up_first_person(
    *,
    by: Actor,
    brewery_name: str,
    time_zone: str,
    username: str,
    full_name: str,
    initials: str,
    new_password: str,
) -> Recorded[User]:
    """Name the brewery and let its first person in, as head brewer and owner.

    Nobody is asked who they are, so this is refused once anybody is there.
    """
    if User.objects.exists():
        raise Refusal("The brewery is already set up. Sign in instead.", code="not_empty")
    change_brewery(locked_brewery(), {"name": brewery_name, "time_zone": time_zone})
    person = create_person(
        username=username,
        full_name=full_name,
        initials=initials,
        roles=FIRST_ROLES,
        new_password=new_password,
    )
    return Recorded(
        person,
        {
            "brewery": brewery_name,
            "time_zone": time_zone,
            "roles": roles_of(person),
        },
    )


@action("set rules of release")
def set_release_rules(
    *, by: Actor, self_release_allowed: bool, waivable_gates: Collection[str], password: str
) -> Recorded[Brewery]:
    """Sign which checks may be waived with a reason, and whether a self-release may be."""
    require(by, "edit_setup", "manage_people")
    sign(by=by, password=password, meaning="Set the release rules")
    offered = dict(waivable_choices())
    if wrong := set(waivable_gates) - offered.keys():
        title = GATE_TITLES.get(min(wrong), min(wrong))
        raise Refusal(f"“{title}” can never be waived.", field="waivable_gates", code="never")
    brewery = locked_brewery()
    changed = change(
        brewery,
        self_release_allowed=self_release_allowed,
        waivable_gates=[code for code in offered if code in waivable_gates],
    )
    brewery.save()
    return Recorded(brewery, changed)
