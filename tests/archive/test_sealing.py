"""Encryption: what comes back, what is noticed, and that the layout is as documented."""

import hashlib
import io
import json
import struct
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from brewhygiene.archive.faults import Damaged, WrongPassphrase
from brewhygiene.archive.layout import sealing
from brewhygiene.archive.layout.sealing import CHUNK_BYTES, SealedReader, SealedWriter

PASSPHRASE = "seven dull copper kettles"
SIZES = [0, 1, CHUNK_BYTES - 1, CHUNK_BYTES, CHUNK_BYTES + 1, 3 * CHUNK_BYTES, 200_001]


@pytest.fixture(autouse=True)
def _cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sealing, "SCRYPT_N", 2**10)
    monkeypatch.setattr(sealing, "SCRYPT_P", 1)


def plain(size: int) -> bytes:
    return bytes(hashlib.shake_256(b"invented").digest(size))


def sealed(path: Path, content: bytes, *, piece: int = 10_000) -> Path:
    with path.open("wb") as file:
        writer = SealedWriter(file, PASSPHRASE)
        for start in range(0, len(content), piece):
            writer.write(content[start : start + piece])
        writer.finish()
    return path


def opened(path: Path, passphrase: str = PASSPHRASE) -> bytes:
    with path.open("rb") as file:
        return io.BufferedReader(SealedReader(file, passphrase)).read()


def header_end(content: bytes) -> int:
    return 12 + struct.unpack(">I", content[8:12])[0]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("piece", [777, 5 * CHUNK_BYTES])
def test_what_was_sealed_comes_back(tmp_path: Path, size: int, piece: int) -> None:
    path = sealed(tmp_path / "a", plain(size), piece=piece)
    assert opened(path) == plain(size)


@pytest.mark.parametrize("size", SIZES)
def test_it_opens_by_the_documented_layout_alone(tmp_path: Path, size: int) -> None:
    """Written after the module's description, with nothing of the module."""
    content = sealed(tmp_path / "a", plain(size)).read_bytes()
    assert content[:8] == b"BHYARC1\n"
    end = header_end(content)
    header = json.loads(content[12:end])
    both = hashlib.scrypt(
        PASSPHRASE.encode(),
        salt=bytes.fromhex(header["salt"]),
        n=header["n"],
        r=header["r"],
        p=header["p"],
        maxmem=2**28,
        dklen=64,
    )
    assert hashlib.sha256(both[32:]).hexdigest() == header["check"]
    cipher, step = AESGCM(both[:32]), header["chunk"] + 16
    chunks = [content[start : start + step] for start in range(end, len(content), step)]
    if len(chunks[-1]) == step:
        chunks.append(b"")
    found = b""
    for number, chunk in enumerate(chunks):
        last = number == len(chunks) - 1
        nonce = bytes.fromhex(header["nonce"]) + number.to_bytes(4, "big") + bytes([last])
        found += cipher.decrypt(nonce, chunk, content[:end])
    assert found == plain(size)


def test_any_place_can_be_read_first(tmp_path: Path) -> None:
    content = plain(200_001)
    with sealed(tmp_path / "a", content).open("rb") as file:
        reader = io.BufferedReader(SealedReader(file, PASSPHRASE))
        assert reader.seek(-5, io.SEEK_END) == 199_996
        assert reader.read() == content[-5:]
        reader.seek(CHUNK_BYTES - 3)
        assert reader.read(6) == content[CHUNK_BYTES - 3 : CHUNK_BYTES + 3]


def test_two_archives_of_the_same_share_nothing(tmp_path: Path) -> None:
    one, two = (sealed(tmp_path / name, plain(1000)).read_bytes() for name in "ab")
    assert one[header_end(one) :] != two[header_end(two) :]
    assert plain(1000)[:40] not in one


@pytest.mark.parametrize("passphrase", ["", "seven dull copper kettle", PASSPHRASE + " "])
def test_another_passphrase_is_told_from_damage(tmp_path: Path, passphrase: str) -> None:
    path = sealed(tmp_path / "a", plain(1000))
    with pytest.raises(WrongPassphrase):
        opened(path, passphrase)


@pytest.mark.parametrize("size", [0, CHUNK_BYTES, 200_001])
def test_every_cut_is_noticed(tmp_path: Path, size: int) -> None:
    path = sealed(tmp_path / "a", plain(size))
    content = path.read_bytes()
    end, step = header_end(content), CHUNK_BYTES + 16
    cuts = {0, 5, 11, 30, end - 1, end, len(content) - 1, len(content) // 2}
    cuts |= {end + number * step for number in range(4) if end + number * step < len(content)}
    for cut in sorted(cuts):
        path.write_bytes(content[:cut])
        with pytest.raises(Damaged):
            opened(path)


def test_chunks_in_another_order_are_noticed(tmp_path: Path) -> None:
    path = sealed(tmp_path / "a", plain(3 * CHUNK_BYTES))
    content = path.read_bytes()
    end, step = header_end(content), CHUNK_BYTES + 16
    one, two = content[end : end + step], content[end + step : end + 2 * step]
    path.write_bytes(content[:end] + two + one + content[end + 2 * step :])
    with pytest.raises(Damaged):
        opened(path)


def test_every_changed_byte_is_noticed(tmp_path: Path) -> None:
    path = sealed(tmp_path / "a", plain(100))
    content = path.read_bytes()
    # From the header's text on: what comes before makes it another kind of file.
    for place in range(12, len(content)):
        path.write_bytes(content[:place] + bytes([content[place] ^ 1]) + content[place + 1 :])
        with pytest.raises((Damaged, WrongPassphrase)):
            opened(path)


@pytest.mark.parametrize(
    "changed",
    [
        {"n": 2**30},
        {"n": 1000},
        {"n": 0},
        {"n": "1024"},
        {"r": 2**20},
        {"p": 10**6},
        {"chunk": 10**12},
        {"kdf": "argon2"},
        {"cipher": "none"},
        {"nonce": "00"},
        {"salt": "no hex"},
    ],
)
def test_header_that_costs_too_much_or_is_unknown_is_refused(
    tmp_path: Path, changed: dict[str, Any]
) -> None:
    path = sealed(tmp_path / "a", plain(100))
    content = path.read_bytes()
    end = header_end(content)
    text = json.dumps({**json.loads(content[12:end]), **changed}).encode()
    path.write_bytes(content[:8] + struct.pack(">I", len(text)) + text + content[end:])
    with pytest.raises(Damaged):
        opened(path)
