"""Bring an archive back, into an empty data folder and an empty database."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from brewhygiene.archive.data_folder import database_name, owner_only
from brewhygiene.archive.faults import ArchiveFault
from brewhygiene.archive.passphrase import passphrase_from_file, typed_passphrase
from brewhygiene.archive.reading import archive_at, is_encrypted
from brewhygiene.archive.restoring import restore_archive
from brewhygiene.archive.words import until_words


class Command(BaseCommand):
    help = (
        "Restore an archive into an empty DATA_DIR and an empty database. Nothing is overwritten."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "archive", type=Path, help="The archive, or a folder: the newest in it is taken."
        )

    def handle(self, *args: Any, archive: Path, **options: Any) -> None:
        owner_only()
        try:
            path = archive_at(archive)
            passphrase = passphrase_from_file()
            if is_encrypted(path) and not passphrase:
                passphrase = typed_passphrase(stdin=sys.stdin)
            restored = restore_archive(path, passphrase=passphrase)
        except ArchiveFault as fault:
            raise CommandError(str(fault)) from fault
        manifest = restored.manifest
        self.stdout.write(f"Restored {manifest.brewery or 'an empty brewery'} from {path.name}.")
        self.stdout.write(f"{until_words(manifest)} The ledger is whole.")
        self.stdout.write(f"Files: {restored.files}. Folder: {settings.DATA_DIR}.")
        self.stdout.write(f"Database: {database_name()}.")
        if manifest.missing:
            self.stdout.write("Missing, since it was not there when the archive was made:")
            for name in manifest.missing:
                self.stdout.write(f"    {name}")
        else:
            self.stdout.write("Nothing is missing. Everybody signs in again.")
