"""The actions on people, and what of them reaches the ledger."""

import json

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.people import actions
from brewhygiene.people.models import User
from brewhygiene.people.permissions import held_permissions, may
from brewhygiene.people.roles import CELLAR, HEAD_BREWER, OWNER
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import PASSWORD, acting, make_cellar_hand, make_head_brewer, make_owner

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner() -> User:
    return make_owner(full_name="Tomas Brandt", initials="TB", username="tomas")


def added(by: User, **values) -> User:
    return actions.add_person(
        by=acting(by),
        **{
            "username": "jonas",
            "full_name": "Jonas Feld",
            "initials": "JF",
            "roles": [CELLAR],
            "new_password": "rubber-boots-9",
            **values,
        },
        password=PASSWORD,
    )


def edited(by: User, person: User, **values) -> User:
    return actions.edit_person(
        by=acting(by),
        person=person,
        **{
            "full_name": person.full_name,
            "initials": person.initials,
            "roles": actions.roles_of(person),
            "is_active": True,
            **values,
        },
        password=PASSWORD,
    )


def fresh(person: User) -> User:
    return User.objects.get(pk=person.pk)


def test_added_person_has_the_role_and_the_password(owner: User) -> None:
    person = added(owner)
    assert fresh(person).check_password("rubber-boots-9")
    assert held_permissions(fresh(person)) == {"work_cellar", "fill_vessel"}


def test_ledger_of_an_added_person_keeps_no_password(owner: User) -> None:
    added(owner)
    entry = Entry.objects.get()
    assert entry.values == {"roles": ["cellar"]}
    assert entry.subject_label == f"person {entry.subject_id}"


@pytest.mark.parametrize(
    "field, value",
    [("username", "TOMAS"), ("full_name", "tomas brandt"), ("initials", "tb")],
)
def test_what_another_has_is_refused_whatever_its_capitals(
    owner: User, field: str, value: str
) -> None:
    with pytest.raises(Refusal) as refused:
        added(owner, **{field: value})
    assert (refused.value.field, refused.value.code) == (field, "taken")
    assert User.objects.count() == 1


def test_capitals_beyond_plain_letters_are_the_same_name(owner: User) -> None:
    added(owner, full_name="Jörg Ähle")
    with pytest.raises(Refusal) as refused:
        added(owner, username="other", initials="XX", full_name="JÖRG ÄHLE")
    assert refused.value.field == "full_name"


@pytest.mark.parametrize("password", ["short", "password123", "jonas.feld"])
def test_weak_password_is_refused_beside_its_field(owner: User, password: str) -> None:
    with pytest.raises(Refusal) as refused:
        added(owner, new_password=password)
    assert (refused.value.field, refused.value.code) == ("new_password", "weak")


def test_cellar_hand_adds_nobody(owner: User) -> None:
    with pytest.raises(NotAllowed):
        added(make_cellar_hand())


def test_role_change_counts_at_once(owner: User) -> None:
    hand = make_cellar_hand()
    edited(owner, hand, roles=[HEAD_BREWER])
    assert may(fresh(hand), "decide_release")
    edited(owner, hand, roles=[])
    assert held_permissions(fresh(hand)) == frozenset()


def test_ledger_keeps_roles_before_and_after(owner: User) -> None:
    hand = make_cellar_hand(full_name="Jonas Feld")
    edited(owner, hand, roles=[CELLAR, HEAD_BREWER], full_name="Jonas Feldt")
    assert Entry.objects.get().values == {
        "before": {"roles": ["cellar"]},
        "after": {"roles": ["cellar", "head brewer"]},
        "names changed": ["full_name"],
    }


def test_groups_of_other_names_are_left_alone(owner: User) -> None:
    from django.contrib.auth.models import Group

    hand = make_cellar_hand()
    hand.groups.add(Group.objects.create(name="choir"))
    edited(owner, hand, roles=[])
    assert [group.name for group in hand.groups.all()] == ["choir"]


@pytest.mark.parametrize(
    "values, field", [({"roles": [CELLAR]}, "roles"), ({"is_active": False}, "is_active")]
)
def test_nobody_takes_their_own_management(owner: User, values: dict, field: str) -> None:
    make_head_brewer()
    with pytest.raises(Refusal) as refused:
        edited(owner, owner, **values)
    assert (refused.value.field, refused.value.code) == (field, "own_management")
    assert may(fresh(owner), "manage_people")
    assert fresh(owner).is_active


def test_last_manager_is_not_removed_by_one_who_was_just_removed(owner: User) -> None:
    """Two managers take it from each other at the same moment; the second comes too late."""
    brewer = make_head_brewer()
    assert may(brewer, "manage_people")  # asked, and kept on the object, before the other's verb
    edited(owner, brewer, roles=[CELLAR])
    with pytest.raises(Refusal) as refused:
        edited(brewer, owner, roles=[])
    assert refused.value.code == "last_manager"
    assert may(fresh(owner), "manage_people")


def test_new_password_takes_the_pin_and_reaches_no_ledger(owner: User) -> None:
    hand = make_cellar_hand()
    actions.set_own_pin(by=acting(hand), new_pin="5093", password=PASSWORD)
    actions.set_password(
        by=acting(owner), person=hand, new_password="wet-gloves-77", password=PASSWORD
    )
    assert fresh(hand).check_password("wet-gloves-77")
    assert fresh(hand).pin_hash == ""
    kept = json.dumps(list(Entry.objects.values_list("values", flat=True)))
    assert "wet-gloves-77" not in kept
    assert "5093" not in kept


def test_own_password_is_not_given_on_the_page_for_others(owner: User) -> None:
    with pytest.raises(Refusal) as refused:
        actions.set_password(
            by=acting(owner), person=owner, new_password="wet-gloves-77", password=PASSWORD
        )
    assert refused.value.code == "own_password"


def test_password_of_who_looks_after_the_server_is_not_given_by_others(owner: User) -> None:
    root = User.objects.create_superuser(username="root", password=PASSWORD)
    with pytest.raises(Refusal) as refused:
        actions.set_password(
            by=acting(owner), person=root, new_password="wet-gloves-77", password=PASSWORD
        )
    assert refused.value.code == "server_password"
    assert fresh(root).check_password(PASSWORD)


def test_own_password_is_changed_to_another_one() -> None:
    hand = make_cellar_hand()
    with pytest.raises(Refusal) as refused:
        actions.change_own_password(by=acting(hand), new_password=PASSWORD, password=PASSWORD)
    assert refused.value.code == "same"
    actions.change_own_password(by=acting(hand), new_password="wet-gloves-77", password=PASSWORD)
    assert fresh(hand).check_password("wet-gloves-77")


@pytest.mark.parametrize(
    "pin, code",
    [
        ("123", "length"),
        ("1234567890123", "length"),
        ("12a4", "not_digits"),
        ("٢٥٨٠", "not_digits"),
        ("0000", "guessable"),
        ("1234", "guessable"),
        ("9876", "guessable"),
        ("1987", "guessable"),
        ("7373", "guessable"),
        ("4422", "guessable"),
        ("2552", "guessable"),
        ("2580", "guessable"),
        ("1470", "guessable"),
        ("9713", "guessable"),
        ("483483", "guessable"),
    ],
)
def test_pin_that_is_none_is_refused(pin: str, code: str) -> None:
    hand = make_cellar_hand()
    with pytest.raises(Refusal) as refused:
        actions.set_own_pin(by=acting(hand), new_pin=pin, password=PASSWORD)
    assert (refused.value.field, refused.value.code) == ("new_pin", code)
    assert fresh(hand).pin_hash == ""


def test_pin_is_kept_hashed() -> None:
    hand = make_cellar_hand()
    actions.set_own_pin(by=acting(hand), new_pin="5093", password=PASSWORD)
    assert "5093" not in fresh(hand).pin_hash
    assert fresh(hand).pin_hash.startswith("md5$")  # the tests' own hasher


def test_who_looks_after_the_server_has_no_pin() -> None:
    root = User.objects.create_superuser(username="root", password=PASSWORD)
    with pytest.raises(Refusal) as refused:
        actions.set_own_pin(by=acting(root), new_pin="5093", password=PASSWORD)
    assert refused.value.code == "server_password"


def test_owner_role_manages_people_but_records_no_cellar_work(owner: User) -> None:
    person = added(owner, roles=[OWNER])
    assert held_permissions(fresh(person)) == {"manage_people", "see_everything"}


def test_password_given_by_somebody_else_is_marked_until_its_owner_chooses_one() -> None:
    brewer = make_head_brewer()
    hand = make_cellar_hand()
    actions.set_password(
        by=acting(brewer), person=hand, new_password="a-given-password", password=PASSWORD
    )
    assert fresh(hand).password_set_by == brewer.display_name
    actions.change_own_password(
        by=acting(fresh(hand)), new_password="one-of-my-own", password="a-given-password"
    )
    assert fresh(hand).password_set_by == ""


def giving(brewer: User, person: User, *roles: str, **more: str) -> User:
    return actions.edit_person(
        by=acting(brewer),
        person=person,
        full_name=person.full_name,
        initials=person.initials,
        roles=roles,
        is_active=True,
        **more,
        password=PASSWORD,
    )


def test_nobody_gives_themselves_a_role_that_signs_without_a_reason() -> None:
    owner = make_owner()
    with pytest.raises(Refusal) as refused:
        giving(owner, owner, "owner", "head brewer")
    assert (refused.value.field, refused.value.code) == ("own_role_reason", "own_role")
    giving(owner, owner, "owner", "head brewer", own_role_reason=" I brew alone ")
    assert fresh(owner).own_role_reason == "I brew alone"
    giving(owner, owner, "owner")
    assert fresh(owner).own_role_reason == "I brew alone"  # the mark stays


def test_second_person_gives_a_role_that_signs_without_a_mark() -> None:
    owner, other = make_owner(), make_owner()
    giving(other, owner, "owner", "head brewer")
    assert fresh(owner).own_role_reason == ""
    giving(owner, owner, "owner", "cellar", "head brewer")  # it was theirs already
    assert fresh(owner).own_role_reason == ""
