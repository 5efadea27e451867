"""Fill an empty installation with an invented brewery as a demonstration."""

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
                "This installation already has a brewery or a person. The demonstration needs an "
                "empty one. Set DATA_DIR to a new folder."
            ) from None
        self.say(f"  Done: {entries} entries in the ledger, all invented.")

    def say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()
