"""The authority and the certificate on disk: made when missing, made anew when due.

Each key lies in one file with its certificate, in a folder of the server's account alone. The key
of the authority stays on the machine, since the certificate is renewed without anybody there.
"""

import contextlib
import dataclasses
import os
import tempfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import load_pem_private_key
from django.conf import settings

from brewhygiene.certificates.making import (
    Key,
    covered_by,
    make_authority,
    make_leaf,
    pem_of,
    permitted_of,
)
from brewhygiene.certificates.names import Names

AUTHORITY_FILE, LEAF_FILE = "authority.pem", "server.pem"
OTHER_AUTHORITY = (
    "The authority may not certify it. Use another name or address; or move the folder of TLS_DIR "
    "away and start again: a new authority is made, which every tablet has to trust anew."
)
# The authority's own end is said so long before: every tablet has to trust another one then.
SAID_BEFORE_DAYS = 365


class Unusable(Exception):
    """Keys or certificates cannot be read or made; the message says why and what to do."""


@dataclasses.dataclass(frozen=True)
class Kept:
    """What is on disk now. ``beyond`` are names that the authority may not certify."""

    authority: x509.Certificate
    leaf: x509.Certificate
    path: Path
    beyond: tuple[str, ...] = ()
    is_new: bool = False


def folder() -> Path:
    return Path(settings.TLS_DIR)


def keep(names: Names, *, now: datetime) -> Kept:
    """The certificate for these names, made or renewed where due. Raises :class:`Unusable`."""
    try:
        authority_key, authority = _authority(names, now=now)
        permitted = permitted_of(authority, names)
        beyond = tuple(one for one in names.all if one not in permitted.all)
        path = folder() / LEAF_FILE
        leaf = _leaf(path)
        is_new = leaf is None or is_due(leaf, authority, permitted, now=now)
        if is_new:
            key, leaf = make_leaf(authority_key, authority, permitted, now=now)
            _put(path, pem_of(key, leaf))
    except OSError as error:
        raise Unusable(f"{folder()} cannot be written or read: {error.strerror}.") from error
    assert leaf is not None
    return Kept(authority, leaf, path, beyond, is_new)


def is_due(
    leaf: x509.Certificate, authority: x509.Certificate, names: Names, *, now: datetime
) -> bool:
    """Whether it has run two thirds of its life, or is not for these names or of this authority."""
    life = leaf.not_valid_after_utc - leaf.not_valid_before_utc
    # The last one before the authority's own end is not made again and again.
    is_last = leaf.not_valid_after_utc == authority.not_valid_after_utc
    return (
        now < leaf.not_valid_before_utc
        or (now >= leaf.not_valid_before_utc + life * 2 / 3 and not is_last)
        or set(covered_by(leaf).all) != set(names.all)
        or not _is_of(leaf, authority)
    )


def _is_of(leaf: x509.Certificate, authority: x509.Certificate) -> bool:
    try:
        leaf.verify_directly_issued_by(authority)
    except (InvalidSignature, ValueError, TypeError):
        return False
    return True


def _authority(names: Names, *, now: datetime) -> tuple[Key, x509.Certificate]:
    path = folder() / AUTHORITY_FILE
    if not path.exists():
        _close(path.parent)
        made = pem_of(*make_authority(names, now=now))
        # Linked, never replaced: of two processes that start together one makes it.
        with _draft(path, made) as draft, contextlib.suppress(FileExistsError):
            os.link(draft, path)
    try:
        pem = path.read_bytes()
        key, authority = load_pem_private_key(pem, None), x509.load_pem_x509_certificate(pem)
        if not isinstance(key, ec.EllipticCurvePrivateKey):
            raise ValueError("no key of an elliptic curve")
        authority.extensions.get_extension_for_class(x509.NameConstraints)
        if key.public_key() != authority.public_key():
            raise ValueError("the key is another certificate's")
    except (ValueError, TypeError, x509.ExtensionNotFound) as error:
        raise Unusable(
            f"{path} holds no usable authority ({error}). Put it back from an archive, or move it "
            "away: a new one is made, which every tablet has to trust anew."
        ) from error
    if now >= authority.not_valid_after_utc:
        raise Unusable(
            f"The authority in {path} has ended. Move it away and start again: a new one is made, "
            "which every tablet has to trust anew."
        )
    return key, authority


def _leaf(path: Path) -> x509.Certificate | None:
    """The certificate as it is kept, or ``None`` where there is none that can be used."""
    try:
        pem = path.read_bytes()
        key, leaf = load_pem_private_key(pem, None), x509.load_pem_x509_certificate(pem)
    except (FileNotFoundError, ValueError, TypeError):
        return None
    return leaf if key.public_key() == leaf.public_key() else None


def _close(place: Path) -> None:
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    place.chmod(0o700)


@contextlib.contextmanager
def _draft(path: Path, content: bytes) -> Iterator[Path]:
    # A temporary file is readable by its owner alone, and so is what it becomes.
    handle, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        yield Path(draft)
    finally:
        Path(draft).unlink(missing_ok=True)


def _put(path: Path, content: bytes) -> None:
    """Put a file in another's place once it is whole."""
    with _draft(path, content) as draft:
        draft.replace(path)
