"""Where the passphrase of an encrypted archive comes from."""

import getpass
from pathlib import Path
from typing import TextIO

from django.conf import settings

from brewhygiene.archive.faults import ArchiveFault

LEAST_CHARACTERS = 12


def passphrase_from_file() -> str:
    """The first line of the file that BACKUP_PASSPHRASE_FILE names, or '' where none is named.

    Every backup is encrypted then, the daily ones included.
    """
    named = settings.BACKUP_PASSPHRASE_FILE
    if not named:
        return ""
    try:
        lines = Path(named).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeError) as error:
        raise ArchiveFault(
            f"The passphrase cannot be read from BACKUP_PASSPHRASE_FILE, {named} ({error}). "
            "Name another file there, or none."
        ) from error
    return _long_enough(lines[0].strip() if lines else "")


def typed_passphrase(*, stdin: TextIO, twice: bool = False) -> str:
    """A passphrase typed at the terminal."""
    if not stdin.isatty():
        raise ArchiveFault(
            "There is no terminal to type the passphrase in. Write it into a file, and name the "
            "file in BACKUP_PASSPHRASE_FILE."
        )
    passphrase = _long_enough(getpass.getpass("Passphrase of the archive: "))
    if twice and getpass.getpass("Type it again: ") != passphrase:
        raise ArchiveFault("The two passphrases differ. Nothing was written.")
    return passphrase


def _long_enough(passphrase: str) -> str:
    if len(passphrase) < LEAST_CHARACTERS:
        raise ArchiveFault(
            f"A passphrase has at least {LEAST_CHARACTERS} characters. Nothing was written."
        )
    return passphrase
