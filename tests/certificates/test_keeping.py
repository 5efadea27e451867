"""Keys and certificates on disk: who may read them, and when they are made anew."""

import stat
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from brewhygiene.certificates import keeping
from brewhygiene.certificates.keeping import Kept, Unusable, keep
from brewhygiene.certificates.making import covered_by, make_authority, make_leaf, pem_of
from brewhygiene.certificates.names import names_of
from tests import clock

NOW = clock.ORIGIN
NAMES = names_of(["cellar.local", "localhost", "192.168.1.10", "127.0.0.1"])


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, settings: Any) -> Path:
    settings.TLS_DIR = tmp_path / "keys" / "tls"
    return settings.TLS_DIR


def kept(now: datetime = NOW, names: object = NAMES) -> Kept:
    return keep(names, now=now)


def test_keys_are_for_the_servers_account_alone(folder: Path) -> None:
    kept()
    kept(now=NOW + timedelta(days=300))
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in [folder, *folder.iterdir()]}
    assert modes == {"tls": 0o700, "authority.pem": 0o600, "server.pem": 0o600}


def test_folder_that_others_can_read_is_closed(folder: Path) -> None:
    folder.mkdir(parents=True)
    folder.chmod(0o755)
    kept()
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_second_look_changes_nothing(folder: Path) -> None:
    first, before = kept(), {path: path.read_bytes() for path in folder.iterdir()}
    second = kept(now=NOW + timedelta(days=1))
    assert (first.is_new, second.is_new) == (True, False)
    assert second.leaf == first.leaf
    assert {path: path.read_bytes() for path in folder.iterdir()} == before


# 397 days from a day before it was made: two thirds are over 263 days and 16 hours after that.
@pytest.mark.parametrize(
    "after, is_new",
    [(timedelta(days=263, hours=15), False), (timedelta(days=263, hours=17), True)],
)
def test_certificate_is_renewed_at_two_thirds_by_the_same_authority(
    after: timedelta, is_new: bool
) -> None:
    first, second = kept(), kept(now=NOW + after)
    assert second.is_new is is_new
    assert second.authority == first.authority
    assert (second.leaf != first.leaf) is is_new
    if is_new:
        assert second.leaf.not_valid_after_utc > first.leaf.not_valid_after_utc
        assert second.leaf.public_key() != first.leaf.public_key()


def test_new_address_means_a_new_certificate_and_no_new_authority() -> None:
    first = kept()
    moved = kept(names=names_of(["cellar.local", "localhost", "10.20.0.5", "127.0.0.1"]))
    assert moved.is_new
    assert moved.authority == first.authority
    assert moved.beyond == ()
    assert covered_by(moved.leaf).addresses == ("10.20.0.5", "127.0.0.1")


def test_name_beyond_the_authority_is_said_and_left_out() -> None:
    first = kept()
    renamed = kept(names=names_of(["brewhouse.local", "localhost", "203.0.113.7", "127.0.0.1"]))
    assert renamed.beyond == ("brewhouse.local", "203.0.113.7")
    assert renamed.authority == first.authority
    assert covered_by(renamed.leaf).all == ("localhost", "127.0.0.1")
    assert not kept(names=names_of(["brewhouse.local", "localhost", "127.0.0.1"])).is_new


def test_clock_that_was_ahead_is_not_waited_for() -> None:
    kept()
    kept(now=NOW + timedelta(days=300))
    assert kept().is_new


def test_certificate_of_another_authority_is_replaced(folder: Path) -> None:
    kept()
    key, other = make_authority(NAMES, now=NOW)
    (folder / "server.pem").write_bytes(pem_of(*make_leaf(key, other, NAMES, now=NOW)))
    assert kept().is_new


@pytest.mark.parametrize("content", [b"", b"half a key", b"-----BEGIN CERTIFICATE-----\nAA=="])
def test_damaged_certificate_is_replaced(folder: Path, content: bytes) -> None:
    kept()
    (folder / "server.pem").write_bytes(content)
    assert kept().is_new


def test_certificate_with_the_key_of_another_is_replaced(folder: Path) -> None:
    kept()
    key, authority = make_authority(NAMES, now=NOW)
    mixed = pem_of(key, make_leaf(key, authority, NAMES, now=NOW)[1])
    (folder / "server.pem").write_bytes(mixed)
    assert kept().is_new


@pytest.mark.parametrize("content", [b"", b"no key"])
def test_damaged_authority_is_never_replaced_by_itself(folder: Path, content: bytes) -> None:
    kept()
    (folder / "authority.pem").write_bytes(content)
    with pytest.raises(Unusable, match="Put it back from an archive, or move it away"):
        kept()
    assert (folder / "authority.pem").read_bytes() == content


def test_authority_with_the_key_of_another_is_refused(folder: Path) -> None:
    kept()
    (key, _), (_, other) = make_authority(NAMES, now=NOW), make_authority(NAMES, now=NOW)
    (folder / "authority.pem").write_bytes(pem_of(key, other))
    with pytest.raises(Unusable, match="the key is another certificate's"):
        kept()


def test_authority_that_has_ended_says_what_to_do() -> None:
    end = kept().authority.not_valid_after_utc
    last = kept(now=end - timedelta(days=60))
    assert last.leaf.not_valid_after_utc == end
    # Nothing longer can be made: the last one is not made again at each look.
    assert not kept(now=end - timedelta(days=10)).is_new
    with pytest.raises(Unusable, match=r"has ended\. Move it away and start again"):
        kept(now=end)


def test_authority_of_another_process_that_was_first_is_taken(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    theirs = make_authority(NAMES, now=NOW)

    def slow(names: object, *, now: datetime) -> object:
        (folder / "authority.pem").write_bytes(pem_of(*theirs))
        return make_authority(names, now=now)

    monkeypatch.setattr(keeping, "make_authority", slow)
    assert kept().authority == theirs[1]
    assert sorted(path.name for path in folder.iterdir()) == ["authority.pem", "server.pem"]


def test_folder_that_cannot_be_written_is_named(folder: Path) -> None:
    folder.parent.write_text("a file where the folder should be")
    with pytest.raises(Unusable, match=f"{folder} cannot be written or read: "):
        kept()
