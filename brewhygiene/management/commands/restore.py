"""Bring an archive back, into an empty data folder and an empty database."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from brewhygiene.archive.data_folder import KEY_FOLDER, database_name, owner_only
from brewhygiene.archive.faults import ArchiveFault
from brewhygiene.archive.passphrase import passphrase_from_file, typed_passphrase
from brewhygiene.archive.reading import archive_at, is_encrypted
from brewhygiene.archive.restoring import restore_archive
from brewhygiene.archive.words import until_words
from brewhygiene.ledger.heads.key import KEY_FILE


class Command(BaseCommand):
    help = (
        "Restore an archive into an empty DATA_DIR and an empty database. Nothing is overwritten."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "archive", type=Path, help="The archive, or a folder: the newest in it is taken."
        )
        parser.add_argument(
            "--despite-findings",
            action="store_true",
            help="Restore it although the ledger does not match its rows, and list what does not.",
        )

    def handle(self, *args: Any, archive: Path, despite_findings: bool, **options: Any) -> None:
        owner_only()
        try:
            path = archive_at(archive)
            passphrase = passphrase_from_file()
            if is_encrypted(path) and not passphrase:
                passphrase = typed_passphrase(stdin=sys.stdin)
            restored = restore_archive(
                path, passphrase=passphrase, despite_findings=despite_findings
            )
        except ArchiveFault as fault:
            raise CommandError(str(fault)) from fault
        manifest = restored.manifest
        self.stdout.write(f"Restored {manifest.brewery or 'an empty brewery'} from {path.name}.")
        consistent = "" if restored.findings else " The ledger is consistent in itself."
        self.stdout.write(f"{until_words(manifest)}{consistent}")
        for finding in restored.findings:
            self.stdout.write(f"Not as the ledger has it: {finding}")
        self.stdout.write(f"Files: {restored.files}. Folder: {settings.DATA_DIR}.")
        self.stdout.write(f"Database: {database_name()}.")
        key = Path(settings.LEDGER_KEY_DIR, KEY_FILE)
        came_back = Path(settings.DATA_DIR, KEY_FOLDER, KEY_FILE)
        if came_back.exists() and key.resolve() != came_back.resolve():
            self.stdout.write(f"Move {came_back} to {key} before the server starts.")
        if manifest.missing:
            self.stdout.write("Missing, since it was not there when the archive was made:")
            for name in manifest.missing:
                self.stdout.write(f"    {name}")
        else:
            self.stdout.write("Nothing is missing. Everybody signs in again.")
