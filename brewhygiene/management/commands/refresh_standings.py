"""Work out how every point stands, where something new came in since."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from brewhygiene.trends.models import PointStanding
from brewhygiene.trends.signals.standing import refresh


class Command(BaseCommand):
    help = "Works out the standing of every point with something new since."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument(
            "--anew", action="store_true", help="forget what was kept and work out all of it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["anew"]:
            PointStanding.objects.all().delete()
        done = refresh(timezone.now())
        self.stdout.write(f"{done} worked out.")
