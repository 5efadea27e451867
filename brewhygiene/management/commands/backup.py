"""Write everything that this installation holds into one archive, while it goes on serving."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils import timezone

from brewhygiene.archive.data_folder import owner_only
from brewhygiene.archive.faults import ArchiveFault
from brewhygiene.archive.keeping import KEPT_IN_WORDS
from brewhygiene.archive.passphrase import passphrase_from_file, typed_passphrase
from brewhygiene.archive.words import size_words, until_words
from brewhygiene.archive.writing import make_archive
from brewhygiene.health.faults import fault_of


class Command(BaseCommand):
    help = "Write all rows, files and keys into one archive. The server may go on serving."
    # What is kept has to be saved even where the set-up is at fault.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--to",
            type=Path,
            metavar="FOLDER",
            help="Where to write it. If left out, BACKUP_DIR, where older ones are kept by age: "
            f"{KEPT_IN_WORDS}.",
        )
        parser.add_argument(
            "--encrypt",
            action="store_true",
            help="Encrypt it with a passphrase, typed in or from BACKUP_PASSPHRASE_FILE.",
        )

    def handle(self, *args: Any, to: Path | None, encrypt: bool, **options: Any) -> None:
        owner_only()
        try:
            passphrase = passphrase_from_file()
            if encrypt and not passphrase:
                passphrase = typed_passphrase(twice=True, stdin=sys.stdin)
            made = make_archive(now=timezone.now(), to=to, passphrase=passphrase)
        except ArchiveFault as fault:
            raise CommandError(str(fault)) from fault
        except DatabaseError as error:
            if (found := fault_of(error)) is None:
                raise
            raise CommandError(f"{found.what} {found.do_at_start} Nothing was written.") from error
        manifest = made.manifest
        self.stdout.write(f"Archive: {made.path} ({size_words(made.path.stat().st_size)})")
        self.stdout.write(f"{until_words(manifest)} Files: {len(manifest.files)}.")
        for name in manifest.missing:
            self.stdout.write(f"Missing in the data folder, named by a row: {name}")
        for path in made.removed:
            self.stdout.write(f"Removed by age: {path.name}")
        if passphrase:
            self.stdout.write("It is encrypted. Without the passphrase nobody can restore it.")
