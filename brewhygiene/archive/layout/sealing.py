"""Encryption of an archive with a passphrase: a stream of chunks, each checked by itself.

Layout, so that an archive can be opened without this program:

- 8 bytes ``BHYARC1\\n``;
- 4 bytes, big-endian: the length of the header;
- the header, JSON: ``kdf`` scrypt with ``n``, ``r``, ``p`` and ``salt``; ``check``, by which a
  wrong passphrase is told from a damaged file; ``cipher`` AES-256-GCM with ``chunk`` (bytes of
  plain text in each chunk) and ``nonce`` (its first 7 bytes). Binary values in hex;
- the chunks: cipher text and 16 bytes of tag. Each holds ``chunk`` bytes of plain text, the last
  one fewer.

scrypt gives 64 bytes: 32 of key, and 32 whose SHA-256 is ``check``. The nonce of a chunk is the 7
bytes, 4 bytes of its number from 0 (big-endian), and 1 byte that is 1 for the last chunk, else 0.
So no chunk can be changed, moved, or left off at the end. Everything before the chunks is their
additional data. The plain text is the zip file.
"""

import functools
import hashlib
import hmac
import io
import json
import os
import secrets
import struct
from typing import IO, Any

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from brewhygiene.archive.faults import Damaged, WrongPassphrase

MAGIC = b"BHYARC1\n"
CHUNK_BYTES = 64 * 1024
TAG_BYTES = 16
# 64 MiB for each try: OWASP's password storage cheat sheet (from memory).
SCRYPT_N, SCRYPT_R, SCRYPT_P = 2**16, 8, 2
# What somebody else's header may make this machine spend.
LARGEST_SCRYPT_BYTES = 512 * 1024 * 1024
LARGEST_P = 16
LARGEST_HEADER_BYTES = 4096
LARGEST_CHUNK_BYTES = 16 * 1024 * 1024
DAMAGED = (
    "The archive is damaged: part of it is missing or was changed. "
    "Copy it here again, or take another archive."
)
WRONG = "The passphrase does not open this archive. Check it, or take another archive."


def _derived(passphrase: str, header: dict[str, Any]) -> tuple[bytes, str]:
    """The key, and what ``check`` has to be."""
    n, r, p = header["n"], header["r"], header["p"]
    both = hashlib.scrypt(
        passphrase.encode(),
        salt=bytes.fromhex(header["salt"]),
        n=n,
        r=r,
        p=p,
        maxmem=128 * n * r + 64 * 1024 * 1024,
        dklen=64,
    )
    return both[:32], hashlib.sha256(both[32:]).hexdigest()


def _nonce(prefix: bytes, number: int, *, last: bool) -> bytes:
    return prefix + struct.pack(">IB", number, last)


class SealedWriter(io.RawIOBase):
    """Encrypts what is written to it into ``file``. Closing it writes the last chunk."""

    def __init__(self, file: IO[bytes], passphrase: str) -> None:
        super().__init__()
        self._file = file
        self._prefix = secrets.token_bytes(7)
        header: dict[str, Any] = {
            "kdf": "scrypt",
            "n": SCRYPT_N,
            "r": SCRYPT_R,
            "p": SCRYPT_P,
            "salt": secrets.token_hex(16),
            "cipher": "AES-256-GCM",
            "chunk": CHUNK_BYTES,
            "nonce": self._prefix.hex(),
        }
        key, header["check"] = _derived(passphrase, header)
        self._cipher = AESGCM(key)
        text = json.dumps(header).encode()
        self._before = MAGIC + struct.pack(">I", len(text)) + text
        self._file.write(self._before)
        self._waiting = bytearray()
        self._number = 0
        self._position = 0

    def writable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._position

    def write(self, data: Any) -> int:
        self._waiting += data
        # One chunk always waits: the last is told from the others.
        while len(self._waiting) > CHUNK_BYTES:
            self._seal(bytes(self._waiting[:CHUNK_BYTES]), last=False)
            del self._waiting[:CHUNK_BYTES]
        self._position += len(data)
        return len(data)

    def _seal(self, plain: bytes, *, last: bool) -> None:
        nonce = _nonce(self._prefix, self._number, last=last)
        self._file.write(self._cipher.encrypt(nonce, plain, self._before))
        self._number += 1

    def finish(self) -> None:
        """Write the last chunk. Without it the archive is refused as cut short."""
        if len(self._waiting) == CHUNK_BYTES:
            self._seal(bytes(self._waiting), last=False)
            self._waiting.clear()
        self._seal(bytes(self._waiting), last=True)
        self._waiting.clear()


class SealedReader(io.RawIOBase):
    """The plain text of an encrypted archive, from any place in it.

    Raises :class:`WrongPassphrase` or :class:`Damaged`, the latter also where a chunk is read
    that does not match its tag.
    """

    def __init__(self, file: IO[bytes], passphrase: str) -> None:
        super().__init__()
        self._file = file
        self._before, header = _read_header(file)
        self._chunk = header["chunk"]
        self._prefix = bytes.fromhex(header["nonce"])
        key, check = _derived(passphrase, header)
        if not hmac.compare_digest(check, header["check"]):
            raise WrongPassphrase(WRONG)
        self._cipher = AESGCM(key)
        size = os.fstat(file.fileno()).st_size - len(self._before)
        self._count, rest = divmod(size, self._chunk + TAG_BYTES)
        if rest < TAG_BYTES:
            raise Damaged(DAMAGED)
        self._count += 1
        self._size = size - self._count * TAG_BYTES
        self._position = 0
        self._open = functools.lru_cache(maxsize=4)(self._opened)
        self._open(self._count - 1)

    def _opened(self, number: int) -> bytes:
        self._file.seek(len(self._before) + number * (self._chunk + TAG_BYTES))
        sealed = self._file.read(self._chunk + TAG_BYTES)
        nonce = _nonce(self._prefix, number, last=number == self._count - 1)
        try:
            return self._cipher.decrypt(nonce, sealed, self._before)
        except (InvalidTag, ValueError) as error:
            raise Damaged(DAMAGED) from error

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._position

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        start = {os.SEEK_SET: 0, os.SEEK_CUR: self._position, os.SEEK_END: self._size}[whence]
        self._position = max(0, start + offset)
        return self._position

    def readinto(self, buffer: Any) -> int:
        if self._position >= self._size or not len(buffer):
            return 0
        number, offset = divmod(self._position, self._chunk)
        part = self._open(number)[offset : offset + len(buffer)]
        buffer[: len(part)] = part
        self._position += len(part)
        return len(part)


def is_sealed(file: IO[bytes]) -> bool:
    """Whether a file begins as an encrypted archive does. Leaves it at its beginning."""
    file.seek(0)
    begins = file.read(len(MAGIC))
    file.seek(0)
    return begins == MAGIC


def _read_header(file: IO[bytes]) -> tuple[bytes, dict[str, Any]]:
    file.seek(0)
    start = file.read(len(MAGIC) + 4)
    length = struct.unpack(">I", start[len(MAGIC) :])[0] if len(start) == len(MAGIC) + 4 else 0
    text = file.read(length) if 0 < length <= LARGEST_HEADER_BYTES else b""
    try:
        header: dict[str, Any] = json.loads(text)
        _check_header(header)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise Damaged(DAMAGED) from error
    return start + text, header


def _check_header(header: dict[str, Any]) -> None:
    """Raises ``ValueError`` for what this version cannot open, or should not spend itself on."""
    n, r, p, chunk = (header[name] for name in ("n", "r", "p", "chunk"))
    if header["kdf"] != "scrypt" or header["cipher"] != "AES-256-GCM":
        raise ValueError("unknown cipher")
    if not all(type(value) is int and value > 0 for value in (n, r, p, chunk)):
        raise ValueError("no whole numbers")
    if n & (n - 1) or n < 2 or 128 * n * r > LARGEST_SCRYPT_BYTES or p > LARGEST_P:
        raise ValueError("too costly")
    if chunk > LARGEST_CHUNK_BYTES:
        raise ValueError("too large")
    if len(bytes.fromhex(header["nonce"])) != 7 or len(header["check"]) != 64:
        raise ValueError("wrong length")
    bytes.fromhex(header["salt"])
