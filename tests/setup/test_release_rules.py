"""Which gates may be waived, and whether a self-release may be."""

import pytest
from django.test import Client

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.release.gates import GATE_TITLES, NEVER_WAIVABLE
from brewhygiene.release.powers.rules import rules_in_force
from brewhygiene.setup import actions
from tests.factories import (
    PASSWORD,
    acting,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_owner,
)

pytestmark = pytest.mark.django_db
ADDRESS = "/set-up/release-rules/"


def test_gates_that_are_never_waived_are_not_offered(client: Client) -> None:
    client.force_login(make_owner())
    form = client.get(ADDRESS).context["form"]
    offered = [code for code, _ in form.fields["waivable_gates"].choices]
    assert offered == [code for code in GATE_TITLES if code not in NEVER_WAIVABLE]
    assert {"safety", "limits"} <= NEVER_WAIVABLE


@pytest.mark.parametrize("code", [*sorted(NEVER_WAIVABLE), "no_such_gate"])
def test_gate_that_is_never_waived_is_refused(code: str) -> None:
    brewery = make_brewery()
    with pytest.raises(Refusal) as refused:
        actions.set_release_rules(
            by=acting(make_owner()),
            self_release_allowed=True,
            waivable_gates=["alerts", code],
            password=PASSWORD,
        )
    assert (refused.value.field, refused.value.code) == ("waivable_gates", "never")
    assert Brewery.objects.get().waivable_gates == brewery.waivable_gates


def test_rules_are_kept_in_the_order_of_the_gates_with_what_changed() -> None:
    make_brewery()
    actions.set_release_rules(
        by=acting(make_head_brewer()),
        self_release_allowed=True,
        waivable_gates=["plates", "deviations"],
        password=PASSWORD,
    )
    assert Brewery.objects.get().waivable_gates == ["deviations", "plates"]
    assert Entry.objects.get().values == {
        "before": {
            "self_release_allowed": False,
            "waivable_gates": ["nothing_over_action", "regime_strength"],
        },
        "after": {"self_release_allowed": True, "waivable_gates": ["deviations", "plates"]},
    }


def test_cellar_hand_does_not_loosen_the_rules() -> None:
    with pytest.raises(NotAllowed):
        actions.set_release_rules(
            by=acting(make_cellar_hand()),
            self_release_allowed=True,
            waivable_gates=[],
            password=PASSWORD,
        )


@pytest.mark.parametrize("make", [make_owner, make_head_brewer])
def test_owner_and_head_brewer_set_the_rules(client: Client, make) -> None:
    make_brewery()
    client.force_login(make())
    assert (
        client.post(ADDRESS, {"key": "a", "waivable_gates": ["alerts"], "password": PASSWORD})[
            "Location"
        ]
        == "/set-up/"
    )
    brewery = Brewery.objects.get()
    assert (brewery.self_release_allowed, brewery.waivable_gates) == (False, ["alerts"])


def test_rules_change_with_the_password_only(client: Client) -> None:
    before = make_brewery().waivable_gates
    client.force_login(make_owner())
    for password, message in (
        ("", "Enter the password."),
        ("not-mine", "This is not your password. Nothing was signed."),
    ):
        response = client.post(ADDRESS, {"waivable_gates": ["alerts"], "password": password})
        assert (response.status_code, response.context["form"].errors) == (
            422,
            {"password": [message]},
        )
    assert Brewery.objects.get().waivable_gates == before


def test_no_gate_ticked_means_none_may_be_waived(client: Client) -> None:
    make_brewery()
    client.force_login(make_owner())
    client.post(ADDRESS, {"key": "a", "self_release_allowed": "on", "password": PASSWORD})
    assert Brewery.objects.get().waivable_gates == []


def test_gate_slipped_in_by_hand_is_refused(client: Client) -> None:
    make_brewery()
    client.force_login(make_owner())
    response = client.post(ADDRESS, {"waivable_gates": ["limits"], "password": PASSWORD})
    assert response.status_code == 422
    assert response.context["form"].errors == {
        "waivable_gates": ["Select a valid choice. limits is not one of the available choices."]
    }


def test_cellar_hand_may_read_the_rules(client: Client) -> None:
    make_brewery()
    client.force_login(make_cellar_hand())
    page = client.get(ADDRESS).content.decode()
    assert GATE_TITLES["nothing_over_action"] in page
    assert "<form" not in page.split("<main")[1]
    assert client.post(ADDRESS, {"key": "a"}).status_code == 403


def test_page_says_what_is_looser_than_shipped_and_the_rules_in_force(client: Client) -> None:
    make_brewery()
    client.force_login(make_owner())
    assert "Looser than shipped" not in client.get(ADDRESS).content.decode()
    make_brewery(self_release_allowed=True)
    page = client.get(ADDRESS).content.decode()
    assert "Looser than shipped: self-release is allowed." in page
    for rule in rules_in_force(Brewery.objects.get()):
        assert f"<li>{rule}</li>" in page


def test_stranger_is_sent_to_sign_in() -> None:
    assert Client().post(ADDRESS)["Location"] == f"/sign-in/?next={ADDRESS}"
