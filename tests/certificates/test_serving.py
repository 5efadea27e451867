"""What tablets are shown: renewed without a restart, and kept where nothing better is there."""

import logging
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from brewhygiene.certificates.keeping import Unusable
from brewhygiene.certificates.making import make_authority, make_leaf, pem_of
from brewhygiene.certificates.names import names_of
from brewhygiene.certificates.serving import HttpsService
from tests import clock

NOW = clock.ORIGIN
NAMES = names_of(["cellar.local", "127.0.0.1"])


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, settings: Any) -> Path:
    settings.TLS_DIR = tmp_path / "tls"
    return settings.TLS_DIR


@pytest.fixture
def service() -> HttpsService:
    made = HttpsService()
    assert made.look(NAMES, now=NOW)
    return made


def test_renewed_certificate_is_for_the_next_connection(service: HttpsService) -> None:
    before = service.context()
    assert not service.look(NAMES, now=NOW + timedelta(days=1))
    assert service.context() is before
    assert service.look(NAMES, now=NOW + timedelta(days=300))
    assert service.context() is not before


def test_what_cannot_be_renewed_is_said_once_and_shown_on(
    service: HttpsService, folder: Path, caplog: pytest.LogCaptureFixture
) -> None:
    before, shown = service.context(), service.shown
    whole = (folder / "authority.pem").read_bytes()
    (folder / "authority.pem").write_bytes(b"")
    for _ in range(2):
        service.look_again(NAMES, now=NOW)
    assert service.why.startswith(f"{folder}/authority.pem holds no usable authority")
    assert [entry.levelno for entry in caplog.records] == [logging.ERROR]
    assert (service.context(), service.shown) == (before, shown)
    (folder / "authority.pem").write_bytes(whole)
    service.look_again(NAMES, now=NOW)
    assert service.why == ""


def test_it_looks_until_it_is_stopped(service: HttpsService) -> None:
    waits: list[float] = []

    def wait(seconds: float) -> bool:
        waits.append(seconds)
        return len(waits) == 3

    service.watch(wait)
    assert waits == [60.0, 60.0, 60.0]


class Site:
    """A certificate that the site obtained itself, in files of its own."""

    def __init__(self, folder: Path, settings: Any) -> None:
        self.certificate, self.key = folder / "site.crt", folder / "site.key"
        settings.TLS_CERT, settings.TLS_KEY = str(self.certificate), str(self.key)
        self.renew()

    def renew(self) -> None:
        key, authority = make_authority(NAMES, now=NOW)
        pem = pem_of(*make_leaf(key, authority, NAMES, now=NOW)).decode()
        begin = pem.index("-----BEGIN CERTIFICATE")
        self.key.write_text(pem[:begin])
        self.certificate.write_text(pem[begin:])


def test_certificate_of_the_site_is_shown_instead_and_reloaded(
    tmp_path: Path, settings: Any, folder: Path
) -> None:
    site, service = Site(tmp_path, settings), HttpsService()
    assert service.look(NAMES, now=NOW)
    assert service.shown.authority is None
    assert not folder.exists()
    before = service.context()
    assert not service.look(NAMES, now=NOW)
    site.renew()
    assert service.look(NAMES, now=NOW)
    assert service.context() is not before


def test_half_renewed_certificate_of_the_site_is_not_shown(tmp_path: Path, settings: Any) -> None:
    site, service = Site(tmp_path, settings), HttpsService()
    service.look(NAMES, now=NOW)
    before, shown, key = service.context(), service.shown, site.key.read_text()
    site.renew()
    new_key = site.key.read_text()
    site.key.write_text(key)  # the certificate is new, its key has not come yet
    with pytest.raises(Unusable, match=r"cannot be used: .*mismatch"):
        service.look(NAMES, now=NOW)
    assert (service.context(), service.shown) == (before, shown)
    site.key.write_text(new_key)
    assert service.look(NAMES, now=NOW)


@pytest.mark.parametrize(
    "content, words",
    [(None, "TLS_CERT names .*: No such file"), ("no PEM", "which holds no certificate")],
)
def test_certificate_of_the_site_that_is_none_is_named(
    tmp_path: Path, settings: Any, content: str | None, words: str
) -> None:
    site = Site(tmp_path, settings)
    site.certificate.unlink()
    if content:
        site.certificate.write_text(content)
    with pytest.raises(Unusable, match=words):
        HttpsService().look(NAMES, now=NOW)
