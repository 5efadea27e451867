"""The installation's signing key: Ed25519 (RFC 8032), in a folder of its own.

Whoever can write the database cannot sign with it unless they can also read this folder, which
is readable by the server's own account alone.
"""

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)
from django.conf import settings

KEY_FILE = "ledger_key.pem"


class NoKey(Exception):
    """The key cannot be read or made; the message says why."""


def key_file() -> Path:
    return Path(settings.LEDGER_KEY_DIR) / KEY_FILE


def private_key() -> Ed25519PrivateKey:
    """The key, made the first time. Raises :class:`NoKey`."""
    path = key_file()
    try:
        if not path.exists():
            _make(path)
    except OSError as error:
        raise NoKey(f"The ledger's key in {path} cannot be made: {error}") from error
    return _read(path)


def _read(path: Path) -> Ed25519PrivateKey:
    try:
        key = load_pem_private_key(path.read_bytes(), password=None)
    except (OSError, ValueError) as error:
        raise NoKey(f"The ledger's key in {path} cannot be read: {error}") from error
    if not isinstance(key, Ed25519PrivateKey):
        raise NoKey(f"{path} holds no Ed25519 key.")
    return key


def _make(path: Path) -> None:
    """Write a new key aside and link it: of two processes that start together one makes it."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    path.parent.chmod(0o700)
    pem = Ed25519PrivateKey.generate().private_bytes(
        Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()
    )
    # A temporary file is readable by its owner alone, and so is what is linked to it.
    with tempfile.NamedTemporaryFile(dir=path.parent) as draft:
        draft.write(pem)
        draft.flush()
        os.fsync(draft.fileno())
        with suppress(FileExistsError):
            os.link(draft.name, path)


def public_hex() -> str:
    """The public key, in hex."""
    return private_key().public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex()


def public_hex_at(path: Path) -> str:
    """The public key of a key file, in hex; '' where there is none. Raises :class:`NoKey`."""
    if not path.exists():
        return ""
    return _read(path).public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex()


def sign(text: str) -> tuple[str, str]:
    """A text's signature and the public key it is checked with, both in hex."""
    key = private_key()
    public = key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
    return key.sign(text.encode()).hex(), public.hex()


def is_signed(text: str, *, signature: str, public: str) -> bool:
    """Whether a text was signed with the key of this public key."""
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public))
        key.verify(bytes.fromhex(signature), text.encode())
    except (InvalidSignature, ValueError):
        return False
    return True
