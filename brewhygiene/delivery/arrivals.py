"""What a tablet had kept, on its way into an action: with whose name, since when, judged how."""

import dataclasses
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db.models import Q, QuerySet

from brewhygiene.delivery.models import Arrival
from brewhygiene.ledger.recording import Actor, Recorded, aggregate_name
from brewhygiene.people.models import User

# What the tablet's script calls a verdict, as the record calls it.
VERDICTS = {
    "in the window": "within",
    "below the window": "below",
    "above the window": "above",
    **{word: word for word in ("clear", "alert", "action", "unjudged")},
}
NOT_VERIFIED = "name stated, not verified"


@dataclasses.dataclass
class Kept:
    """One form that a tablet had kept; ``final`` is the verdict of what was recorded of it."""

    typed_at: datetime
    page: str
    delivered_by: User
    name_stated: bool
    offset_s: int = 0
    provisional: str = ""
    final: str = ""
    after_end: bool = False

    def keep(self, written: Recorded[Any], *, by: Actor, name: str) -> dict[str, Any]:
        """The row of its arrival; gives what the entry says of it. Part of actions."""
        subject = written.subject
        self.final = str(getattr(subject, "verdict", ""))
        arrival = Arrival.objects.create(
            name=name,
            subject_type=subject._meta.model_name or "",
            subject_id=subject.pk,
            subject_label=str(subject)[:200],
            aggregate=aggregate_name(written.aggregate),
            page=self.page[:300],
            person=by.person,
            delivered_by=self.delivered_by,
            typed_at=min(self.typed_at, by.now),
            arrived_at=by.now,
            offset_s=self.offset_s,
            provisional=self.provisional if self.final else "",
            final=self.final,
            name_stated=self.name_stated,
            after_end=self.after_end,
        )
        said: dict[str, Any] = {"typed_at": arrival.typed_at, "clock_offset_s": self.offset_s}
        if arrival.judged_otherwise:
            said["provisional"] = arrival.provisional
        if self.after_end:
            said["after_end"] = True
        if self.name_stated:
            said["name"] = NOT_VERIFIED
            said["delivered_by"] = self.delivered_by.pseudonym
        return said


def arrivals_of(kind: str, pks: Iterable[int]) -> dict[int, Arrival]:
    """How records of one kind arrived, by their key; those typed at once are not in it. 1 query.

    Of a record that was written to twice the one whose name is not verified comes first.
    """
    found = Arrival.objects.filter(subject_type=kind, subject_id__in=list(pks)).select_related(
        "person", "delivered_by"
    )
    by_key: dict[int, Arrival] = {}
    for arrival in found:
        if arrival.subject_id not in by_key or arrival.unverified:
            by_key[arrival.subject_id] = arrival
    return by_key


def unverified() -> QuerySet[Arrival]:
    """What waits for the person in whose name it was recorded."""
    return Arrival.objects.filter(Q(name_stated=True, confirmed_at__isnull=True))


def started_on_tablet(record_pk: int) -> bool:
    """Whether a step's start was kept on a tablet and arrived later. 1 query."""
    return Arrival.objects.filter(
        subject_type="steprecord", subject_id=record_pk, name="start step"
    ).exists()
