"""Sending heads away from the machine: into a folder, by mail."""

import logging
import os
import tempfile
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.core.mail import send_mail
from django.db import transaction

from brewhygiene.ledger.heads.head import head_now, kept_head
from brewhygiene.ledger.heads.key import NoKey
from brewhygiene.ledger.models import Head

EVERY = timedelta(hours=1)
# Ways that lead off the machine by themselves; paper and photographs need a person.
FOLDER, MAIL = "folder", "mail"

_log = logging.getLogger(__name__)
_last_sent: dict[str, datetime] = {}


def send_head(*, now: datetime) -> list[str]:
    """Send the present head on every way that is set; what went wrong, in words."""
    problems = []
    for way, target, send in (
        (FOLDER, settings.HEADS_DIR, _write),
        (MAIL, settings.HEADS_MAIL_TO, _mail),
    ):
        if not target:
            continue
        try:
            head = head_now(way=way, now=now)
            # A folder may have lost it since; nobody wants the same message twice.
            if head._state.adding or way == FOLDER:
                send(head)
            if head._state.adding:
                head.save()
        # A mail server refuses in many ways; what it says is for the log and the page.
        except (OSError, NoKey) as error:
            problems.append(f"The ledger's head was not sent ({way}): {error}")
    return problems


def _write(head: Head) -> None:
    """One file a head, whole or not at all. Raises ``OSError``."""
    folder = Path(settings.HEADS_DIR)
    folder.mkdir(parents=True, exist_ok=True)
    signed = kept_head(head)
    path = folder / f"head-{head.number:09d}-{signed.root[:12]}.txt"
    if path.exists():
        return
    with tempfile.NamedTemporaryFile("w", dir=folder, delete=False, encoding="ascii") as draft:
        draft.write(signed.whole_text)
        draft.flush()
        os.fsync(draft.fileno())
    Path(draft.name).chmod(0o644)
    Path(draft.name).replace(path)


def _mail(head: Head) -> None:
    send_mail(
        subject=f"Ledger head at entry {head.number}",
        message=(
            "Keep this message. With it somebody can later show that no entry up to "
            f"{head.number} was changed or removed.\n\n{kept_head(head).whole_text}"
        ),
        from_email=None,
        recipient_list=list(settings.HEADS_MAIL_TO),
    )


def send_when_due(now: datetime) -> None:
    """Once the present transaction has gone through, send a head if none went for an hour."""
    if not (settings.HEADS_DIR or settings.HEADS_MAIL_TO):
        return
    last = _last_sent.get("")
    if last is not None and last <= now < last + EVERY:
        return
    _last_sent[""] = now

    def send() -> None:
        for problem in send_head(now=now):
            _log.warning(problem)

    transaction.on_commit(send)


def outside_since() -> Head | None:
    """The first head that left, and with it since when there is one outside. 1 query."""
    return Head.objects.order_by("id").first()


_WAYS = {
    FOLDER: "in the folder for heads",
    MAIL: "by mail",
    "page": "shown on the ledger's page",
    "command": "printed by send_head",
    "record": "on the record of turnaround",
    "export": "in the exported record of turnaround",
    "month": "on the report of",
}


def newest_outside() -> tuple[datetime, str] | None:
    """When a head last left, and in words on which way; ``None`` if none ever did. 1 query."""
    newest = Head.objects.order_by("-signed_at", "-id").only("signed_at", "way").first()
    if newest is None:
        return None
    kind, _, which = newest.way.partition(" ")
    return newest.signed_at, f"{_WAYS.get(kind, kind)} {which}".strip()
