"""Sign the ledger's end and send it away from the machine, as the server does once an hour."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from brewhygiene.ledger.heads.head import kept_head, make_head
from brewhygiene.ledger.heads.key import NoKey
from brewhygiene.ledger.heads.outside import send_head


class Command(BaseCommand):
    help = "Sign the ledger's end, print it, and send it where HEADS_DIR and HEADS_MAIL_TO say."

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        try:
            head = make_head(way="command", now=now)
        except NoKey as error:
            raise CommandError(str(error)) from error
        self.stdout.write(kept_head(head).whole_text, ending="")
        if problems := send_head(now=now):
            raise CommandError("\n".join(problems))
        if not (settings.HEADS_DIR or settings.HEADS_MAIL_TO):
            self.stderr.write(
                "Sent nowhere. Set HEADS_DIR or HEADS_MAIL_TO, or keep the text above."
            )
