"""Actions on people. No password and no PIN ever reaches the ledger."""

from collections.abc import Collection
from typing import Any

from axes.utils import reset as lift_lock_out
from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from brewhygiene.ledger.changes import change
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.models import User
from brewhygiene.people.permissions import require
from brewhygiene.people.pins import LEAST_DIGITS, MOST_DIGITS, is_obvious
from brewhygiene.people.roles import ROLES, SIGNING_ROLES
from brewhygiene.people.signatures import check_password, confirm
from brewhygiene.quantities.style import DATES, DECIMALS
from brewhygiene.refusals import Refusal

# What tells who somebody is; never in an entry, so that it can be emptied once they have left.
NAMES = frozenset({"username", "full_name", "initials", "first_name", "last_name", "email"})


def _refuse_taken(field: str, value: str, *, person: User | None = None) -> None:
    """Refuse a value that another person has, whatever its capitals. 1 query."""
    others = User.objects.all() if person is None else User.objects.exclude(pk=person.pk)
    # Compared here and not in the database, which knows the capitals of plain letters only.
    for pk, name, taken in others.values_list("pk", "full_name", field):
        if taken.casefold() == value.casefold():
            raise Refusal(
                f"{name or f'Person {pk}'} already uses this. Enter something else.",
                field=field,
                code="taken",
            )


def _check_new_password(password: str, *, person: User) -> None:
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise Refusal(" ".join(error.messages), field="new_password", code="weak") from error


def _give_roles(person: User, roles: Collection[str]) -> None:
    """Exactly these of the three roles; groups of other names are left alone."""
    if unknown := set(roles) - set(ROLES):
        raise Refusal(f"“{min(unknown)}” is not a role.", field="roles")
    person.groups.remove(*Group.objects.filter(name__in=ROLES).exclude(name__in=roles))
    person.groups.add(*Group.objects.filter(name__in=roles))


def roles_of(person: User) -> list[str]:
    """The names of a person's roles. 1 query, or none where the groups are fetched already."""
    names = {group.name for group in person.groups.all()}
    return [role for role in ROLES if role in names]


def create_person(
    *,
    username: str,
    full_name: str,
    initials: str,
    roles: Collection[str],
    new_password: str,
    set_by: str = "",
) -> User:
    """A new user with their roles; called inside an action, whose ledger entry covers it.

    ``set_by`` is who else knows the password: until its owner chooses another, it signs nothing.
    """
    _refuse_taken("username", username)
    _refuse_taken("full_name", full_name)
    _refuse_taken("initials", initials)
    person = User(username=username, full_name=full_name, initials=initials, password_set_by=set_by)
    _check_new_password(new_password, person=person)
    person.set_password(new_password)
    person.save()
    _give_roles(person, roles)
    return person


def without_names(changed: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """What changed, with a word instead of each name: names stand in the table of people alone."""
    named = sorted(NAMES & changed["before"].keys())
    kept = {
        side: {name: value for name, value in values.items() if name not in NAMES}
        for side, values in changed.items()
    }
    return {**kept, "names changed": named} if named else kept


@action("add person")
def add_person(
    *,
    by: Actor,
    username: str,
    full_name: str,
    initials: str,
    roles: Collection[str],
    new_password: str,
    password: str,
) -> Recorded[User]:
    """Let another person sign in."""
    require(by, "manage_people")
    confirm(by=by, password=password)
    person = create_person(
        username=username,
        full_name=full_name,
        initials=initials,
        roles=roles,
        new_password=new_password,
        set_by=by.name,
    )
    return Recorded(person, {"roles": roles_of(person)})


def _manages(people_pk: int | None = None) -> bool:
    """Whether that person (or anybody at all) may manage people, as stored now. 1 query."""
    managers = User.objects.filter(
        is_active=True,
        groups__permissions__codename="manage_people",
        groups__permissions__content_type__app_label="brewhygiene",
    )
    return (managers if people_pk is None else managers.filter(pk=people_pk)).exists()


@action("edit person")
def edit_person(
    *,
    by: Actor,
    person: User,
    full_name: str,
    initials: str,
    roles: Collection[str],
    is_active: bool,
    password: str,
    own_role_reason: str = "",
) -> Recorded[User]:
    """Change a person's name, roles, or whether they may sign in; effective at once.

    Whoever gives themselves a role that signs says why, for the record: that mark stays. A second
    person who manages people gives it without one.
    """
    user = require(by, "manage_people")
    confirm(by=by, password=password)
    person = User.objects.select_for_update().get(pk=person.pk)
    before = roles_of(person)
    gained = set(roles) & set(SIGNING_ROLES) - set(before)
    if person.pk == user.pk and gained and not own_role_reason.strip():
        raise Refusal(
            "You would give yourself a role that signs. Ask somebody else who manages people to "
            "give it, or enter the reason: it stays beside your name.",
            field="own_role_reason",
            code="own_role",
        )
    _refuse_taken("full_name", full_name, person=person)
    _refuse_taken("initials", initials, person=person)
    values = {"full_name": full_name, "initials": initials, "is_active": is_active}
    if person.pk == user.pk and gained:
        values["own_role_reason"] = own_role_reason.strip()
    changed = change(person, **values)
    person.save(update_fields=list(values))
    _give_roles(person, roles)
    if person.pk == user.pk and not _manages(person.pk):
        raise Refusal(
            "You cannot remove your own right to manage people. Ask another head brewer or owner.",
            field="roles" if is_active else "is_active",
            code="own_management",
        )
    # Two managers may each take it from the other at the same moment.
    if not _manages():
        raise Refusal(
            "Nobody else can manage people. Give another person the owner role first.",
            field="roles",
            code="last_manager",
        )
    after = roles_of(person)
    if before != after:
        changed["before"]["roles"] = before
        changed["after"]["roles"] = after
    return Recorded(person, without_names(changed))


@action("set password")
def set_password(*, by: Actor, person: User, new_password: str, password: str) -> Recorded[User]:
    """Give another person a new password, which takes their PIN and lifts a lock-out.

    Whoever gives it knows it, until its owner chooses one of their own.
    """
    user = require(by, "manage_people")
    confirm(by=by, password=password)
    person = User.objects.select_for_update().get(pk=person.pk)
    if person.pk == user.pk:
        raise Refusal("Change your own password under My password.", code="own_password")
    if person.is_superuser and not user.is_superuser:
        raise Refusal(
            f"{person} looks after the server. Change this password on the server.",
            code="server_password",
        )
    _check_new_password(new_password, person=person)
    person.set_password(new_password)
    person.pin_hash = ""
    person.password_set_by = by.name
    person.save(update_fields=["password", "pin_hash", "password_set_by"])
    lift_lock_out(username=person.username)
    return Recorded(person, {"password": "given anew", "pin": "taken"})


@action("change own password")
def change_own_password(*, by: Actor, new_password: str, password: str) -> Recorded[User]:
    """Choose a password of one's own instead of ``password``, whoever set that."""
    check_password(by=by, password=password)
    person = User.objects.select_for_update().get(pk=by.person.pk)
    _check_new_password(new_password, person=person)
    if person.check_password(new_password):
        raise Refusal(
            "This is your current password. Enter a new one.", field="new_password", code="same"
        )
    person.set_password(new_password)
    person.password_set_by = ""
    person.save(update_fields=["password", "password_set_by"])
    return Recorded(person, {"password": "changed by its owner"})


def check_pin(pin: str) -> None:
    """Refuse a PIN that is too short, no number, or the first that anybody would try."""
    if not pin.isascii() or not pin.isdigit():
        raise Refusal("Enter digits only.", field="new_pin", code="not_digits")
    if not LEAST_DIGITS <= len(pin) <= MOST_DIGITS:
        raise Refusal(
            f"Enter {LEAST_DIGITS} to {MOST_DIGITS} digits.",
            field="new_pin",
            code="length",
        )
    if is_obvious(pin):
        raise Refusal(
            "This PIN is too easy to guess. Choose another.",
            field="new_pin",
            code="guessable",
        )


@action("set own PIN")
def set_own_pin(*, by: Actor, new_pin: str, password: str) -> Recorded[User]:
    """Choose a PIN for changing hands."""
    confirm(by=by, password=password)
    person = User.objects.select_for_update().get(pk=by.person.pk)
    if person.is_staff or person.is_superuser:
        raise Refusal(
            "You also look after the server, so you cannot have a PIN. Sign in with your password.",
            code="server_password",
        )
    check_pin(new_pin)
    person.pin_hash = make_password(new_pin)
    person.save(update_fields=["pin_hash"])
    return Recorded(person, {"pin": "set"})


@action("remove own PIN")
def remove_own_pin(*, by: Actor) -> Recorded[User]:
    """Do without a PIN; the password still opens everything."""
    person = User.objects.select_for_update().get(pk=by.person.pk)
    person.pin_hash = ""
    person.save(update_fields=["pin_hash"])
    return Recorded(person, {"pin": "removed"})


@action("choose own style")
def choose_own_style(*, by: Actor, decimal_sign: str, date_style: str) -> Recorded[User]:
    """Choose how numbers and dates are shown to oneself; blank is the brewery's way."""
    # Any role: without one nothing is recorded at all.
    require(by, "work_cellar", "see_everything")
    person = User.objects.select_for_update().get(pk=by.person.pk)
    if decimal_sign not in ("", *DECIMALS):
        raise Refusal("Choose a decimal sign from the list.", field="decimal_sign")
    if date_style not in ("", *DATES):
        raise Refusal("Choose a way of dates from the list.", field="date_style")
    changed = change(person, decimal_sign=decimal_sign, date_style=date_style)
    person.save(update_fields=["decimal_sign", "date_style"])
    return Recorded(person, {**changed})


@action("forget name")
def forget_name(*, by: Actor, person: User, password: str) -> Recorded[User]:
    """Empty the name of somebody who has left; entries go on telling what the person did.

    The name printed under a signature stays with the signed record, which has to show it for as
    long as it is kept (21 CFR 11.50).
    """
    require(by, "manage_people")
    confirm(by=by, password=password)
    person = User.objects.select_for_update().get(pk=person.pk)
    if person.is_active:
        raise Refusal(
            f"{person} can still sign in. Take that away first, then the name can be emptied.",
            code="active",
        )
    name = person.display_name
    person.username = f"person-{person.pk}"
    person.full_name = f"Person {person.pk}"
    person.initials = person.first_name = person.last_name = person.email = ""
    person.set_unusable_password()
    person.pin_hash = ""
    person.save()
    # It may stand beside whoever was given a password by this person.
    for other in User.objects.select_for_update().filter(password_set_by=name):
        other.password_set_by = person.full_name
        other.save(update_fields=["password_set_by"])
    return Recorded(person, {"name": "emptied"})
