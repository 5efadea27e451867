"""Fill an empty installation with an invented brewery, to try things on."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from brewhygiene.demo.seeding import NotEmpty, seed


class Command(BaseCommand):
    help = "Fill an empty installation with an invented brewery and six weeks of its work."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            entries = seed(now=timezone.now(), say=self.say)
        except NotEmpty:
            raise CommandError(
                "There is a brewery or a person here already. The invented brewery is only ever "
                "put into an empty installation: give it a folder of its own with DATA_DIR."
            ) from None
        self.say(f"  done: {entries} entries in the ledger, all invented.")

    def say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()
