"""Check the ledger from its first entry for changes made outside the application."""

import sys
from typing import Any

from django.core.management.base import BaseCommand

from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import check_chain
from brewhygiene.quantities.words import counted


class Command(BaseCommand):
    help = "Check every entry of the ledger against its hash. Exits with 1 at the first broken one."

    def handle(self, *args: Any, **options: Any) -> None:
        broken = check_chain()
        if broken is None:
            entries = counted(Entry.objects.count(), "entry", "entries")
            self.stdout.write(f"The ledger is unchanged: {entries}.")
            return
        self.stderr.write(
            f"Broken at entry {broken.pk}: {broken.verb}, {broken.subject_label}, recorded "
            f"{broken.recorded_at:%Y-%m-%d %H:%M:%S} UTC by {broken.user_name}. It, or the entry "
            "before it, was changed outside the application. Do not rely on entries from here on."
        )
        sys.exit(1)
