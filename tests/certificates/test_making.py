"""The authority and its certificates, checked by OpenSSL's own command, not by what made them."""

import subprocess
from datetime import timedelta
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import Encoding

from brewhygiene.certificates import making
from brewhygiene.certificates.making import (
    covered_by,
    fingerprint,
    make_authority,
    make_leaf,
    permitted_of,
)
from brewhygiene.certificates.names import Names, names_of
from tests import clock

NOW = clock.ORIGIN
NAMES = names_of(["cellar", "cellar.local", "192.168.1.10", "localhost", "127.0.0.1"])


class Made:
    """An authority and one certificate, as files."""

    def __init__(self, folder: Path, certified: Names = NAMES) -> None:
        self.key, self.authority = make_authority(NAMES, now=NOW)
        _, self.leaf = make_leaf(self.key, self.authority, certified, now=NOW)
        self.authority_file, self.leaf_file = folder / "authority.pem", folder / "leaf.pem"
        self.authority_file.write_bytes(self.authority.public_bytes(Encoding.PEM))
        self.leaf_file.write_bytes(self.leaf.public_bytes(Encoding.PEM))

    def verified(self, *options: str, at: object = NOW) -> subprocess.CompletedProcess[str]:
        """`openssl verify` at a given moment: neither it nor the test looks at a clock."""
        return subprocess.run(
            [
                "openssl",
                "verify",
                "-x509_strict",
                "-purpose",
                "sslserver",
                "-attime",
                str(int(at.timestamp())),
                "-CAfile",
                self.authority_file,
                *options,
                self.leaf_file,
            ],
            capture_output=True,
            text=True,
        )

    def text(self, path: Path) -> str:
        command = ["openssl", "x509", "-noout", "-text", "-in", path]
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout


@pytest.mark.parametrize(
    "asked",
    [
        ("-verify_hostname", "cellar"),
        ("-verify_hostname", "cellar.local"),
        ("-verify_hostname", "localhost"),
        ("-verify_ip", "192.168.1.10"),
        ("-verify_ip", "127.0.0.1"),
    ],
)
def test_openssl_accepts_the_chain_by_every_name_and_address(
    tmp_path: Path, asked: tuple[str, str]
) -> None:
    found = Made(tmp_path).verified(*asked)
    assert (found.returncode, found.stdout.split()[-1]) == (0, "OK"), found.stderr


@pytest.mark.parametrize(
    "asked, words",
    [
        (("-verify_hostname", "cellar2.local"), "hostname mismatch"),
        (("-verify_ip", "192.168.1.11"), "IP address mismatch"),
    ],
)
def test_openssl_refuses_the_chain_by_another_name(
    tmp_path: Path, asked: tuple[str, str], words: str
) -> None:
    found = Made(tmp_path).verified(*asked)
    assert found.returncode != 0
    assert words in found.stderr


@pytest.mark.parametrize(
    "names",
    [["bank.example"], ["evilcellar.local"], ["203.0.113.7"], ["11.0.0.1"], ["172.32.0.1"]],
)
def test_certificate_beyond_the_building_is_worth_nothing(tmp_path: Path, names: list[str]) -> None:
    """What a thief of the authority's key could make."""
    found = Made(tmp_path, names_of([*names, "cellar.local"])).verified()
    assert found.returncode != 0
    assert "permitted subtree violation" in found.stderr


@pytest.mark.parametrize("address", ["10.9.8.7", "172.31.255.1", "192.168.77.3", "fd12::1"])
def test_authority_may_certify_another_address_of_a_private_network(
    tmp_path: Path, address: str
) -> None:
    found = Made(tmp_path, names_of(["cellar.local", address])).verified("-verify_ip", address)
    assert found.returncode == 0, found.stderr


def test_certificate_makes_no_further_authority(tmp_path: Path) -> None:
    """The chain authority, certificate, certificate is refused: the first signs servers alone."""
    made = Made(tmp_path)
    key, below = make_leaf(made.key, made.authority, NAMES, now=NOW)
    _, second = make_leaf(key, below, NAMES, now=NOW)
    middle, last = tmp_path / "middle.pem", tmp_path / "last.pem"
    middle.write_bytes(below.public_bytes(Encoding.PEM))
    last.write_bytes(second.public_bytes(Encoding.PEM))
    made.leaf_file = last
    assert "invalid CA certificate" in made.verified("-untrusted", str(middle)).stderr


@pytest.mark.parametrize(
    "after, is_valid",
    [
        (timedelta(hours=-23), True),
        (timedelta(hours=-25), False),
        (timedelta(days=395, hours=23), True),
        (timedelta(days=396), False),
    ],
)
def test_certificate_runs_for_its_time_only(
    tmp_path: Path, after: timedelta, is_valid: bool
) -> None:
    assert (Made(tmp_path).verified(at=NOW + after).returncode == 0) is is_valid


def test_lives(tmp_path: Path) -> None:
    made = Made(tmp_path)
    leaf, authority = made.leaf, made.authority
    # Both ends count (RFC 5280, 4.1.2.5).
    counted = leaf.not_valid_after_utc - leaf.not_valid_before_utc + timedelta(seconds=1)
    assert counted == timedelta(days=397)
    assert authority.not_valid_before_utc == NOW - timedelta(days=1)
    assert authority.not_valid_after_utc == NOW + timedelta(days=3651)


def test_certificate_never_outlives_its_authority() -> None:
    key, authority = make_authority(NAMES, now=NOW)
    late = authority.not_valid_after_utc - timedelta(days=100)
    _, leaf = make_leaf(key, authority, NAMES, now=late)
    assert leaf.not_valid_after_utc == authority.not_valid_after_utc
    _, early = make_leaf(key, authority, NAMES, now=NOW - timedelta(days=30))
    assert early.not_valid_before_utc == authority.not_valid_before_utc


def test_what_openssl_reads_in_them(tmp_path: Path) -> None:
    made = Made(tmp_path)
    authority, leaf = made.text(made.authority_file), made.text(made.leaf_file)
    flat = " ".join(authority.split())
    assert "X509v3 Basic Constraints: critical CA:TRUE, pathlen:0" in flat
    assert "X509v3 Key Usage: critical Certificate Sign X509v3" in flat
    assert (
        "X509v3 Name Constraints: critical Permitted: DNS:cellar DNS:cellar.local DNS:localhost "
        "IP:10.0.0.0/255.0.0.0 IP:172.16.0.0/255.240.0.0 IP:192.168.0.0/255.255.0.0 "
        "IP:127.0.0.0/255.0.0.0"
    ) in flat
    assert "NIST CURVE: P-256" in authority
    assert "NIST CURVE: P-256" in leaf
    assert "ecdsa-with-SHA256" in leaf
    flat = " ".join(leaf.split())
    assert "X509v3 Basic Constraints: critical CA:FALSE" in flat
    assert "X509v3 Key Usage: critical Digital Signature X509v3" in flat
    assert "X509v3 Extended Key Usage: TLS Web Server Authentication X509v3" in flat
    assert (
        "DNS:cellar, DNS:cellar.local, DNS:localhost, IP Address:192.168.1.10, IP Address:127.0.0.1"
    ) in flat


def test_fingerprint_is_openssls(tmp_path: Path) -> None:
    made = Made(tmp_path)
    command = ["openssl", "x509", "-noout", "-fingerprint", "-sha256", "-in", made.authority_file]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert said.strip().partition("=")[2] == fingerprint(made.authority)


def test_address_outside_the_private_networks_is_permitted_alone(tmp_path: Path) -> None:
    names = names_of(["cellar", "203.0.113.7"])
    _, authority = make_authority(names, now=NOW)
    asked = names_of(["cellar", "other", "a.cellar", "203.0.113.7", "203.0.113.8", "10.1.1.1"])
    assert permitted_of(authority, asked) == Names(
        ("cellar", "a.cellar"), ("203.0.113.7", "10.1.1.1")
    )


def test_names_are_read_back(tmp_path: Path) -> None:
    made = Made(tmp_path)
    assert covered_by(made.leaf) == NAMES
    assert covered_by(made.authority) == Names((), ())


def test_each_authority_is_called_otherwise() -> None:
    """A device that trusts an older one of the same name would take it for this one."""
    _, first = make_authority(NAMES, now=NOW)
    _, second = make_authority(NAMES, now=NOW + timedelta(seconds=1))
    assert first.subject != second.subject
    assert first.serial_number != second.serial_number
    assert timedelta(days=1) == making.BEFORE
