"""Sealing an old period: its entries as a file of their own, verified, its hash in the ledger.

The archive holds the entries and what they bound as lines of canonical JSON (RFC 8785), and a
manifest with the hash of each part. Nothing is deleted in place: the hashes stay in the chain, so
that the archive can be held against it for as long as either is kept.
"""

import hashlib
import json
import os
import tempfile
import zipfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from brewhygiene.ledger.check.entries import check_entries
from brewhygiene.ledger.hashing.canonical import canonical
from brewhygiene.ledger.models import Binding, Entry
from brewhygiene.ledger.recording import Actor, append, chain_held

FORMAT = "brewhygiene sealed period 1"
SEALED = "seal period"


class CannotSeal(Exception):
    """The period cannot be sealed; the message says why."""


def seal(*, until: datetime, folder: Path, now: datetime) -> Path:
    """Seal every entry before ``until`` that no archive has yet; the archive's path.

    Raises :class:`CannotSeal`, and then leaves no file behind.
    """
    with chain_held():
        first = _sealed_up_to() + 1
        entries = Entry.objects.filter(number__gte=first, recorded_at__lt=until)
        last = entries.order_by("-number").values_list("number", flat=True).first()
        if last is None:
            raise CannotSeal(f"No entry before {until:%Y-%m-%d} is left to seal.")
        if wrong := next(check_entries(), None):
            raise CannotSeal(f"A ledger that does not hold is not sealed. {wrong}")
        path = folder / f"ledger-{first:09d}-{last:09d}.zip"
        if path.exists():
            raise CannotSeal(f"{path} is there already. Nothing was overwritten.")
        manifest = _write(path, first, last)
        append(
            name=SEALED,
            by=Actor(user=None, now=now),
            subject=("sealed period", first, f"entries {first} to {last}"),
            values={**manifest, "archive": path.name, "sha256": _sha256_of(path)},
        )
    return path


def _sealed_up_to() -> int:
    newest = Entry.objects.filter(verb=SEALED).order_by("-number").first()
    return int(newest.values["last"]) if newest is not None else 0


def _write(path: Path, first: int, last: int) -> dict[str, Any]:
    """Write the archive aside, read it back, and only then give it its name."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor, draft = tempfile.mkstemp(dir=path.parent, suffix=".part")
    except OSError as error:
        raise CannotSeal(f"The archive cannot be written: {error}") from error
    try:
        with (
            os.fdopen(descriptor, "wb") as file,
            zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive,
        ):
            parts = {
                "entries.jsonl": _put(archive, "entries.jsonl", _entries(first, last)),
                "bindings.jsonl": _put(archive, "bindings.jsonl", _bindings(first, last)),
            }
            manifest = {"format": FORMAT, "first": first, "last": last, "parts": parts}
            archive.writestr("manifest.json", canonical(manifest))
        if verified(Path(draft)) != manifest:
            raise CannotSeal("The archive did not read back as it was written.")
        Path(draft).replace(path)
    except OSError as error:
        raise CannotSeal(f"The archive cannot be written: {error}") from error
    finally:
        Path(draft).unlink(missing_ok=True)
    return manifest


def _put(archive: zipfile.ZipFile, name: str, lines: Iterator[str]) -> str:
    """Write lines as one member; the SHA-256 of them, in hex."""
    digest = hashlib.sha256()
    with archive.open(name, "w", force_zip64=True) as member:
        for line in lines:
            content = line.encode() + b"\n"
            digest.update(content)
            member.write(content)
    return digest.hexdigest()


def _entries(first: int, last: int) -> Iterator[str]:
    entries = Entry.objects.filter(number__range=(first, last)).order_by("number")
    for entry in entries.iterator(chunk_size=2000):
        yield canonical({"number": entry.number, "hash": entry.hash, "text": entry.hashed_text()})


def _bindings(first: int, last: int) -> Iterator[str]:
    bindings = Binding.objects.filter(entry__number__range=(first, last)).select_related("entry")
    for one in bindings.order_by("entry__number", "id").iterator(chunk_size=5000):
        yield canonical({"entry": one.entry.number, "leaf": one.leaf()})


def verified(path: Path) -> dict[str, Any]:
    """The manifest of an archive whose parts have the hashes that it names.

    Raises :class:`CannotSeal` where it cannot be read, or a part or an entry is not as it was.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            manifest: dict[str, Any] = json.loads(archive.read("manifest.json"))
            for name, expected in manifest["parts"].items():
                with archive.open(name) as member:
                    if hashlib.file_digest(member, "sha256").hexdigest() != expected:  # type: ignore[arg-type]
                        raise CannotSeal(f"{name} in {path.name} is not what was sealed.")
            with archive.open("entries.jsonl") as lines:
                for line in lines:
                    entry = json.loads(line)
                    if hashlib.sha256(entry["text"].encode()).hexdigest() != entry["hash"]:
                        raise CannotSeal(f"Entry {entry['number']} in {path.name} was changed.")
    except (OSError, ValueError, KeyError, zipfile.BadZipFile) as error:
        raise CannotSeal(f"{path} cannot be read as a sealed period: {error}") from error
    return manifest


def _sha256_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
