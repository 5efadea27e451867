"""Calculate the state of every sampling point that has new records."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from brewhygiene.trends.models import PointStanding
from brewhygiene.trends.signals.standing import refresh


class Command(BaseCommand):
    help = "Calculate the state of every sampling point that has new records."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument(
            "--all", action="store_true", help="calculate every sampling point again"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["all"]:
            PointStanding.objects.all().delete()
        done = refresh(timezone.now())
        self.stdout.write(f"{done} calculated.")
