"""Who may print what, and what the browser is given."""

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories import Cellar

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


@pytest.mark.parametrize("who", ["hand", "brewer", "owner"])
def test_everybody_signed_in_may_print_a_record(cellar: Cellar, client: Client, who: str) -> None:
    turnaround = cellar.emptied()
    client.force_login(getattr(cellar, who))
    response = client.get(reverse("reports:record", args=[turnaround.pk]))
    assert response.status_code == 200
    assert response.headers["Content-Type"] == "application/pdf"
    assert response.content.startswith(b"%PDF-")
    name = f"release-record-{cellar.vessel.name.lower()}-turnaround-{turnaround.pk}.pdf"
    assert response.headers["Content-Disposition"] == f'inline; filename="{name}"'
    assert response.headers["Cache-Control"] == "private, no-cache, no-store"


@pytest.mark.parametrize("who", ["hand", "brewer", "owner"])
def test_everybody_signed_in_may_print_labels(cellar: Cellar, client: Client, who: str) -> None:
    client.force_login(getattr(cellar, who))
    for address in (
        reverse("reports:labels", args=[cellar.vessel.pk]),
        reverse("reports:all_labels"),
    ):
        response = client.get(address)
        assert response.status_code == 200
        assert response.content.startswith(b"%PDF-")


def test_outsider_is_sent_to_sign_in(cellar: Cellar, client: Client) -> None:
    turnaround = cellar.emptied()
    for address in (
        reverse("reports:record", args=[turnaround.pk]),
        reverse("reports:labels", args=[cellar.vessel.pk]),
        reverse("reports:all_labels"),
    ):
        response = client.get(address)
        assert response.status_code == 302
        assert response.headers["Location"] == f"{reverse('people:sign_in')}?next={address}"


@pytest.mark.parametrize("name", ["reports:record", "reports:labels"])
def test_paper_of_nothing_is_not_found(cellar: Cellar, client: Client, name: str) -> None:
    client.force_login(cellar.hand)
    assert client.get(reverse(name, args=[987_654])).status_code == 404


def test_paper_is_only_read(cellar: Cellar, client: Client) -> None:
    client.force_login(cellar.hand)
    assert client.post(reverse("reports:all_labels")).status_code == 405
