"""Seal an old period of the ledger into a verified archive; nothing is deleted."""

import zoneinfo
from argparse import ArgumentParser
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.sealing import CannotSeal, seal


class Command(BaseCommand):
    help = (
        "Write every entry before a day, with what it bound, into an archive in a folder, verify "
        "it, and record its hash. The ledger itself keeps everything."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("until", help="The first day that is not sealed, as 2025-01-01.")
        parser.add_argument("folder", help="Where the archive goes.")

    def handle(self, *args: Any, until: str, folder: str, **options: Any) -> None:
        zone = zoneinfo.ZoneInfo(Brewery.current().time_zone)
        try:
            day = datetime.combine(date.fromisoformat(until), time(), zone)
        except ValueError as error:
            raise CommandError(f"“{until}” is no day. Enter it as 2025-01-01.") from error
        try:
            path = seal(until=day, folder=Path(folder), now=timezone.now())
        except CannotSeal as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"Sealed into {path}. Its hash stands in the ledger.")
