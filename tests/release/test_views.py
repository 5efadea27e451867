"""The pages of the release room: who may open them; re-sanitising."""

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.turnarounds.models import Clean, Turnaround
from tests.board.scenes import HOUR, Now
from tests.factories import make_resanitise_version, make_user
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Now:
    return Now()


def text_of(response: HttpResponse) -> str:
    return response.content.decode()


def address(name: str, turnaround: Turnaround) -> str:
    return reverse(f"release:{name}", args=[turnaround.pk])


ADDRESSES = ["decide", "resanitise", "fill", "fill_without_release"]


@pytest.mark.parametrize("name", ADDRESSES)
@pytest.mark.parametrize("method", ["get", "post"])
def test_release_pages_send_a_stranger_to_the_sign_in(cellar: Now, name: str, method: str) -> None:
    to = address(name, cellar.emptied(now=cellar.at(HOUR)))
    response = getattr(Client(), method)(to)
    assert response.status_code == 302
    assert response.headers["Location"] == f"/sign-in/?next={to}"


@pytest.mark.parametrize(
    ("name", "may"),
    [
        ("decide", {"brewer"}),
        ("resanitise", {"hand", "brewer"}),
        ("fill", {"hand", "brewer"}),
        ("fill_without_release", {"brewer"}),
    ],
)
def test_release_posts_are_refused_to_the_wrong_role(cellar: Now, name: str, may: set[str]) -> None:
    to = address(name, cellar.to_decide())
    people = {
        "hand": cellar.hand,
        "brewer": cellar.brewer,
        "owner": cellar.owner,
        "nobody": make_user(),
    }
    before = Entry.objects.count()
    allowed = {
        who for who, user in people.items() if signed_in(user).post(to, {}).status_code != 403
    }
    assert allowed == may
    assert Entry.objects.count() == before


@pytest.mark.parametrize(
    ("name", "may"),
    [
        ("decide", {"brewer", "owner"}),
        ("resanitise", {"hand", "brewer"}),
        ("fill", {"hand", "brewer"}),
        ("fill_without_release", {"brewer"}),
    ],
)
def test_release_pages_open_to_the_right_roles(cellar: Now, name: str, may: set[str]) -> None:
    to = address(name, cellar.to_decide())
    people = {
        "hand": cellar.hand,
        "brewer": cellar.brewer,
        "owner": cellar.owner,
        "nobody": make_user(),
    }
    codes = {who: signed_in(user).get(to).status_code for who, user in people.items()}
    assert codes == {who: 200 if who in may else 403 for who in people}


@pytest.mark.parametrize("name", ADDRESSES)
def test_release_pages_of_no_turnaround_are_not_found(cellar: Now, name: str) -> None:
    to = reverse(f"release:{name}", args=[987654])
    assert signed_in(cellar.brewer).get(to).status_code == 404


def test_resanitise_starts_a_clean_after_a_lapse(cellar: Now) -> None:
    turnaround = cellar.released_ago(6 * HOUR)
    other = make_resanitise_version(vessel_kinds=["bright_tank"])
    client = signed_in(cellar.hand)
    html = text_of(client.get(address("resanitise", turnaround)))
    assert f"{cellar.resanitise_version.regime.name}: rinse, sanitiser" in html
    assert other.regime.name not in html
    response = client.post(
        address("resanitise", turnaround), {"version": cellar.resanitise_version.pk}
    )
    clean = Clean.objects.get(purpose="resanitise")
    assert (clean.turnaround, clean.started_by) == (turnaround, cellar.hand)
    assert response.headers["Location"] == reverse("turnarounds:clean", args=[clean.pk])


def test_resanitise_is_refused_with_the_reason_after_a_failed_result(cellar: Now) -> None:
    turnaround = cellar.to_decide(ago=6 * HOUR, rlu=90)
    client = signed_in(cellar.hand)
    why = "A reading is over the action limit. Re-clean the vessel instead."
    html = text_of(client.get(address("resanitise", turnaround)))
    assert why in html
    assert "<form method" not in html.split("<main")[1]
    response = client.post(
        address("resanitise", turnaround), {"version": cellar.resanitise_version.pk}
    )
    assert response.status_code == 422
    assert why in text_of(response)
    assert not Clean.objects.filter(purpose="resanitise").exists()


def test_resanitise_takes_only_what_resanitises_this_kind(cellar: Now) -> None:
    turnaround = cellar.released_ago(6 * HOUR)
    response = signed_in(cellar.hand).post(
        address("resanitise", turnaround), {"version": cellar.version.pk}
    )
    assert response.status_code == 422
    assert "That regime is no longer in force. Choose another." in text_of(response)


def test_resanitise_says_where_there_is_no_regime_for_it(cellar: Now) -> None:
    turnaround = cellar.released_ago(6 * HOUR)
    cellar.resanitise_version.regime.vessel_kinds = ["keg"]
    cellar.resanitise_version.regime.save()
    html = text_of(signed_in(cellar.brewer).get(address("resanitise", turnaround)))
    assert "No regime re-sanitises a fermenter yet." in html
    assert reverse("regimes:regimes") in html
