"""Walk the ledger from its first entry and say whether anything was changed behind its back."""

import sys
from typing import Any

from django.core.management.base import BaseCommand

from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import check_chain


class Command(BaseCommand):
    help = "Check every entry of the ledger against its hash; exits 1 at the first broken one."

    def handle(self, *args: Any, **options: Any) -> None:
        broken = check_chain()
        if broken is None:
            count = Entry.objects.count()
            self.stdout.write(
                f"The ledger is whole: {count} {'entry' if count == 1 else 'entries'}."
            )
            return
        self.stderr.write(
            f"Broken at entry {broken.pk}: {broken.verb}, {broken.subject_label}, recorded "
            f"{broken.recorded_at:%Y-%m-%d %H:%M:%S} UTC by {broken.user_name}. It, or the entry "
            "before it, was changed outside the application. Entries from here on prove nothing."
        )
        sys.exit(1)
