"""The address that labels carry, and what may be said of it."""

from pathlib import Path
from typing import Any

import pytest

from brewhygiene.certificates import addresses, names
from brewhygiene.certificates.addresses import plain_address, preset_address, site_address
from brewhygiene.certificates.serving import https


@pytest.mark.parametrize(
    "typed, kept",
    [
        ("http://cellar.local:8000", "http://cellar.local:8000/"),
        ("https://cellar.local:8443/", "https://cellar.local:8443/"),
        (" HTTP://Cellar.Local ", "http://cellar.local/"),
        ("http://192.168.1.10:8000", "http://192.168.1.10:8000/"),
    ],
)
def test_address_is_kept_in_one_form(typed: str, kept: str) -> None:
    assert site_address(typed) == kept


@pytest.mark.parametrize(
    "typed, words",
    [
        ("cellar.local:8000", "Begin the address with http"),
        ("ftp://cellar.local", "Begin the address with http"),
        ("http://", "Enter the server's name"),
        ("http://cellar_1:8000", "Enter the server's name"),
        ("http://[fd00::1]:8000", "Enter the server's name"),
        ("http://localhost:8000", "opens on the server itself only"),
        ("http://127.0.0.1:8000", "opens on the server itself only"),
        ("http://127.8.0.1", "opens on the server itself only"),
        ("http://cellar:8000/points/", "with nothing after it"),
        ("http://cellar:8000/?a=1", "with nothing after it"),
        ("http://cellar:8000/#a", "with nothing after it"),
        ("http://a@cellar:8000/", "with nothing after it"),
        ("http://cellar:99999", "This is no address"),
        ("http://cellar:0", "This is no address"),
        ("http://[fd00", "This is no address"),
    ],
)
def test_what_is_no_address_of_a_server_is_refused(typed: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        site_address(typed)


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A machine whose responder answers for its name once this file is there."""
    responder = tmp_path / "socket"
    monkeypatch.setattr(names, "AVAHI", responder)
    monkeypatch.setattr(names.sys, "platform", "linux")
    monkeypatch.setattr(names.socket, "gethostname", lambda: "Cellar.brewery.example")
    monkeypatch.setattr(names, "lan_address", lambda: "192.168.1.10")
    monkeypatch.setattr(https, "http_port", 8001)
    return responder


def test_name_is_printed_where_something_answers_for_it(machine: Path) -> None:
    assert preset_address() == "http://192.168.1.10:8001/"
    machine.touch()
    assert preset_address() == "http://cellar.local:8001/"


def test_machine_off_any_network_has_its_name(
    machine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(names, "lan_address", lambda: None)
    assert preset_address() == "http://cellar:8001/"
    monkeypatch.setattr(names.socket, "gethostname", lambda: "no_name")
    assert preset_address() == "http://localhost:8001/"


def test_port_is_the_servers(machine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(https, "http_port", 0)
    monkeypatch.setenv("PORT", "8123")
    assert plain_address() == "http://192.168.1.10:8123/"
    monkeypatch.delenv("PORT")
    assert plain_address() == f"http://192.168.1.10:{addresses.USUAL_PORT}/"


def test_behind_a_proxy_labels_lead_to_it(machine: Path, settings: Any) -> None:
    settings.BEHIND_PROXY = True
    assert preset_address() == "https://192.168.1.10/"


def test_machine_is_called_by_all_its_names(machine: Path, settings: Any) -> None:
    settings.TLS_NAMES = ["tanks.brewery.example", "10.0.0.7"]
    assert names.this_machine() == names.Names(
        (
            "cellar",
            "cellar.local",
            "cellar.brewery.example",
            "tanks.brewery.example",
            "localhost",
        ),
        ("192.168.1.10", "10.0.0.7", "127.0.0.1"),
    )


def test_machine_without_a_usable_name_still_has_one(
    machine: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(names.socket, "gethostname", lambda: "no_name")
    assert names.this_machine().hosts == ("localhost",)
