"""What the health page says of HTTPS, and the page that shows how a device comes to trust it."""

import re
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from django.test import Client

from brewhygiene.certificates.making import fingerprint, make_authority, make_leaf
from brewhygiene.certificates.names import names_of
from brewhygiene.certificates.serving import HttpsService, Shown, https
from brewhygiene.health.certificate import State, certificate_state
from brewhygiene.health.checks import health_lines
from tests import clock

NOW = clock.ORIGIN
NAMES = names_of(["cellar.local", "192.168.1.10"])
RESTART = "Restart the server"


def service(*, beyond: tuple[str, ...] = (), ours: bool = True, made: datetime = NOW) -> Any:
    key, authority = make_authority(NAMES, now=NOW)
    _, leaf = make_leaf(key, authority, NAMES, now=made)
    found = HttpsService()
    found.port, found.shown = 8443, Shown(leaf, authority if ours else None, beyond)
    return found


def said(of: HttpsService, *, now: datetime = NOW, address: str | None = "192.168.1.10") -> State:
    return certificate_state(now, when="{:%Y-%m-%d}".format, service=of, address=lambda: address)


def test_sound_certificate() -> None:
    assert said(service()) == State(
        "Port 8443. Certificate renewed 2026-06-17, ends 2027-07-18, for cellar.local, 192.168.1.10"
    )
    assert said(service(), address=None).do == ""


def test_certificate_of_the_site_begins_when_it_says() -> None:
    assert "Certificate begins 2026-06-16, ends" in said(service(ours=False)).value


def test_address_that_is_not_in_it() -> None:
    assert said(service(), address="192.168.1.11").do == (
        "192.168.1.11, this machine's address, is not in the certificate. Restart the server."
    )
    # A site's own is for the names that the site chose.
    assert said(service(ours=False), address="192.168.1.11").do == ""


def test_name_that_the_authority_may_not_certify() -> None:
    found = said(service(beyond=("203.0.113.7",)), address="203.0.113.7").do
    assert found.startswith("203.0.113.7 is not in the certificate. The authority may not certify")


@pytest.mark.parametrize(
    "after, words",
    [
        (timedelta(days=395), ""),
        (timedelta(days=396), "The certificate has ended."),
        (timedelta(days=-1, seconds=-1), "The certificate begins later than this clock says."),
    ],
)
def test_certificate_out_of_its_time(after: timedelta, words: str) -> None:
    assert said(service(), now=NOW + after).do[: len(words) or None] == words


@pytest.mark.parametrize("days, is_said", [(367, False), (365, True)])
def test_end_of_the_authority_is_said_a_year_before(days: int, is_said: bool) -> None:
    end = NOW + timedelta(days=3651)
    at = end - timedelta(days=days) + timedelta(seconds=1)
    found = said(service(made=at), now=at).do
    assert found.startswith("The authority ends on ") is is_said


@pytest.mark.parametrize("days, is_said", [(15, False), (13, True)])
def test_end_of_the_sites_own_certificate_is_said(days: int, is_said: bool) -> None:
    end = NOW + timedelta(days=396)
    found = said(service(ours=False), now=end - timedelta(days=days)).do
    assert found.startswith("Put a renewed certificate") is is_said


def test_what_kept_it_from_being_renewed_comes_first() -> None:
    broken = service()
    broken.why = "The folder cannot be written."
    assert said(broken, address="10.0.0.1").do == "The folder cannot be written."


def test_https_that_is_not_served(settings: Any) -> None:
    off = HttpsService()
    assert said(off) == State("Not served")
    off.why = "Port 8443 is taken."
    assert said(off) == State("Not served", "Port 8443 is taken.")
    settings.BEHIND_PROXY = True
    assert said(off) == State("Served by a proxy in the building")


@pytest.mark.django_db
def test_health_page_has_the_line(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    running = service()
    monkeypatch.setattr(https, "port", 8443)
    monkeypatch.setattr(https, "shown", running.shown)
    lines = {line.title: line for line in health_lines(NOW)}
    assert "Certificate renewed 17 Jun 2026, " in lines["HTTPS"].value


# The page


@pytest.fixture
def authority(monkeypatch: pytest.MonkeyPatch) -> x509.Certificate:
    shown = service().shown
    monkeypatch.setattr(https, "port", 8443)
    monkeypatch.setattr(https, "http_port", 8000)
    monkeypatch.setattr(https, "shown", shown)
    monkeypatch.setattr("brewhygiene.certificates.addresses.stable_host", lambda: "cellar.local")
    return shown.authority


@pytest.mark.django_db
def test_page_shows_three_steps_for_each_device(authority: x509.Certificate) -> None:
    page = Client().get("/trust/").content.decode()
    steps = re.findall(r'<ol class="trust-steps">(.*?)</ol>', page, re.S)
    assert [one.count("<li>") for one in steps] == [3, 3, 3]
    assert fingerprint(authority) in page
    assert "http://cellar.local:8000/trust/brewhygiene.crt" in page
    assert page.count('class="qr"') == 1
    assert 'href="/trust/brewhygiene.crt"' in page


@pytest.mark.django_db
def test_authority_is_loaded_without_signing_in_and_without_its_key(
    authority: x509.Certificate,
) -> None:
    answer = Client().get("/trust/brewhygiene.crt")
    assert answer.headers["Content-Type"] == "application/x-x509-ca-cert"
    assert answer.content == authority.public_bytes(Encoding.DER)
    assert b"PRIVATE" not in answer.content


@pytest.mark.django_db
def test_sign_in_and_set_up_lead_there(client: Client) -> None:
    from tests.factories import make_head_brewer

    brewer = make_head_brewer()
    assert 'href="/trust/"' in client.get("/sign-in/").content.decode()
    client.force_login(brewer)
    assert 'href="/trust/"' in client.get("/set-up/").content.decode()


@pytest.mark.django_db
def test_page_without_an_authority_says_why(monkeypatch: pytest.MonkeyPatch, settings: Any) -> None:
    def words() -> str:
        return " ".join(Client().get("/trust/").content.decode().split())

    assert "HTTPS is not served here now." in words()
    monkeypatch.setattr(https, "shown", service(ours=False).shown)
    assert "a certificate that your site obtained itself" in words()
    monkeypatch.setattr(https, "shown", None)
    settings.BEHIND_PROXY = True
    assert "A proxy in the building serves HTTPS." in words()
    assert Client().get("/trust/brewhygiene.crt").status_code == 404


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/trust/", "/trust/brewhygiene.crt", "/trust/reached"])
def test_it_is_only_read(authority: x509.Certificate, path: str) -> None:
    assert Client().post(path).status_code == 405
