"""Signing in and out, the lock-out, and the invented people's one tap."""

import pytest
from axes.models import AccessAttempt
from django.conf import settings
from django.test import Client
from django.urls import reverse

from brewhygiene.demo.people import DEMO_SIGN_INS
from brewhygiene.people import actions
from brewhygiene.people.models import User
from tests.factories import PASSWORD, acting, make_brewery, make_cellar_hand, make_owner

pytestmark = pytest.mark.django_db
SIGN_IN = "/sign-in/"


@pytest.fixture
def jonas() -> User:
    return make_cellar_hand(username="jonas", full_name="Jonas Feld", initials="JF")


def sign_in(client: Client, username: str = "jonas", password: str = PASSWORD, **more):
    return client.post(SIGN_IN, {"username": username, "password": password, **more})


def signed_in_as(client: Client) -> str | None:
    return client.session.get("_auth_user_id")


def test_name_and_password_lead_to_the_board(client: Client, jonas: User) -> None:
    response = sign_in(client)
    assert (response.status_code, response["Location"]) == (302, "/")
    assert signed_in_as(client) == str(jonas.pk)


def test_capitals_of_a_tablet_do_not_matter_in_the_name(client: Client, jonas: User) -> None:
    assert sign_in(client, username="Jonas").status_code == 302


def test_page_that_was_asked_for_comes_after(client: Client, jonas: User) -> None:
    assert client.get("/set-up/people/")["Location"] == "/sign-in/?next=/set-up/people/"
    asked = client.get("/sign-in/?next=/set-up/people/")
    assert 'name="next" value="/set-up/people/"' in asked.content.decode()
    assert sign_in(client, next="/set-up/people/")["Location"] == "/set-up/people/"


@pytest.mark.parametrize(
    "elsewhere", ["https://example.org/", "//example.org/", "/\\example.org", "javascript:alert(1)"]
)
def test_page_of_another_house_is_not_followed(client: Client, jonas: User, elsewhere: str) -> None:
    assert sign_in(client, next=elsewhere)["Location"] == "/"


def test_wrong_password_keeps_the_name_and_says_so(client: Client, jonas: User) -> None:
    response = sign_in(client, password="nonsense")
    assert response.status_code == 422
    assert response.context["form"].errors == {
        "password": ["This name and password do not match. Check both."]
    }
    assert 'value="jonas"' in response.content.decode()
    assert "nonsense" not in response.content.decode()


def test_unknown_name_gets_the_same_answer(client: Client, jonas: User) -> None:
    known = sign_in(client, password="nonsense").context["form"].errors
    assert sign_in(client, username="nobody").context["form"].errors == known


def test_empty_form_names_both_boxes(client: Client, jonas: User) -> None:
    assert sign_in(client, "", "").context["form"].errors == {
        "username": ["Enter your sign-in name."],
        "password": ["Enter the password."],
    }


def test_person_who_left_does_not_sign_in(client: Client, jonas: User) -> None:
    owner = make_owner()
    actions.edit_person(
        by=acting(owner),
        person=jonas,
        full_name="Jonas Feld",
        initials="JF",
        roles=["cellar"],
        is_active=False,
        password=PASSWORD,
    )
    assert sign_in(client).status_code == 422


def test_person_who_leaves_is_out_at_once(client: Client, jonas: User) -> None:
    client.force_login(jonas)
    assert client.get("/pin/").status_code == 200
    User.objects.filter(pk=jonas.pk).update(is_active=False)
    assert client.get("/pin/").status_code == 302


def test_too_many_wrong_passwords_lock_and_a_new_one_unlocks(client: Client, jonas: User) -> None:
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        assert sign_in(client, password="nonsense").status_code == 422
    response = sign_in(client, password="nonsense")
    assert response.status_code == 429
    assert "Sign-in locked" in response.content.decode()
    assert sign_in(client).status_code == 429  # even the right one
    actions.set_password(
        by=acting(make_owner()), person=jonas, new_password="wet-gloves-77", password=PASSWORD
    )
    assert sign_in(client, password="wet-gloves-77").status_code == 302


def test_lock_is_on_the_name_and_not_on_the_whole_tablet(client: Client, jonas: User) -> None:
    make_owner(username="tomas")
    for _ in range(settings.AXES_FAILURE_LIMIT):
        sign_in(client, password="nonsense")
    assert sign_in(client, username="tomas").status_code == 302


def test_failed_attempt_is_kept_without_the_password(client: Client, jonas: User) -> None:
    sign_in(client, password="nonsense")
    kept = AccessAttempt.objects.get()
    assert "nonsense" not in kept.post_data
    assert "jonas" not in kept.post_data


def test_sign_out_takes_a_post(client: Client, jonas: User) -> None:
    client.force_login(jonas)
    assert client.get("/sign-out/").status_code == 405
    assert client.post("/sign-out/")["Location"] == SIGN_IN
    assert signed_in_as(client) is None


def test_sign_out_on_a_known_tablet_leads_to_everybodys_names(client: Client, jonas: User) -> None:
    sign_in(client)
    assert client.post("/sign-out/")["Location"] == "/switch/"


def test_signed_in_person_is_not_asked_again(client: Client, jonas: User) -> None:
    client.force_login(jonas)
    assert client.get(SIGN_IN)["Location"] == reverse("board:board")


def test_invented_people_are_offered_in_the_invented_brewery_only(client: Client) -> None:
    brewery = make_brewery()
    for username, password, _ in DEMO_SIGN_INS:
        person = make_cellar_hand(username=username)
        person.set_password(password)
        person.save()
    assert client.get(SIGN_IN).context["demo_sign_ins"] == []
    assert DEMO_SIGN_INS[0][1] not in client.get(SIGN_IN).content.decode()
    brewery.is_demo = True
    brewery.save()
    offered = client.get(SIGN_IN).context["demo_sign_ins"]
    assert [(o.username, o.password, o.role) for o in offered] == DEMO_SIGN_INS


def test_each_offered_sign_in_opens_the_house(client: Client) -> None:
    make_brewery(is_demo=True)
    for username, password, _ in DEMO_SIGN_INS:
        person = make_cellar_hand(username=username)
        person.set_password(password)
        person.save()
    for offer in client.get(SIGN_IN).context["demo_sign_ins"]:
        visitor = Client()
        assert sign_in(visitor, offer.username, offer.password).status_code == 302


def test_invented_person_who_is_gone_is_not_offered(client: Client) -> None:
    make_brewery(is_demo=True)
    make_cellar_hand(username="jonas")
    make_cellar_hand(username="mara", is_active=False)
    offered = client.get(SIGN_IN).context["demo_sign_ins"]
    assert [offer.username for offer in offered] == ["jonas"]


def test_invented_sign_ins_would_be_accepted_as_new_passwords() -> None:
    owner = make_owner()
    for username, password, role in DEMO_SIGN_INS:
        person = actions.add_person(
            by=acting(owner),
            username=username,
            full_name=f"{username} (invented)",
            initials=username[:3],
            roles=[role],
            new_password=password,
            password=PASSWORD,
        )
        assert actions.roles_of(person) == [role]


def test_sign_in_page_is_not_kept_by_the_browser(client: Client, jonas: User) -> None:
    assert "no-store" in client.get(SIGN_IN)["Cache-Control"]


def test_sign_in_without_the_token_is_refused(jonas: User) -> None:
    strict = Client(enforce_csrf_checks=True)
    assert sign_in(strict).status_code == 403
