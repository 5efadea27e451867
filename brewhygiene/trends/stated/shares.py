"""How many times were stated instead of run by the timer: by person and by kind of step."""

import dataclasses
from collections import Counter
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import Count, Q

from brewhygiene.people.models import User
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.quantities.words import counted
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.models import StepRecord

LOOKS_BACK = timedelta(days=90)
# Below it a share is more chance than habit. Common practice, no source.
ENOUGH = 10


@dataclasses.dataclass(frozen=True)
class Share:
    """How many of ``ended`` steps have stated times."""

    name: str
    stated: int
    ended: int

    @property
    def enough(self) -> bool:
        return self.ended >= ENOUGH

    @property
    def words(self) -> str:
        """As '20 %'; too few steps have no share.

        >>> Share("Jonas", 3, 15).words, Share("Jonas", 3, 9).words
        ('20 %', 'too few steps')
        """
        if not self.enough:
            return "too few steps"
        return f"{100 * self.stated / self.ended:.0f} %"


@dataclasses.dataclass(frozen=True)
class Shares:
    """The shares of a time, those with most stated times first."""

    people: tuple[Share, ...]
    steps: tuple[Share, ...]
    total: Share

    @property
    def about(self) -> str:
        """As '12 of 480 steps'."""
        return f"{self.total.stated} of {counted(self.total.ended, 'step')}"


def _ordered(found: Iterable[Share]) -> tuple[Share, ...]:
    return tuple(sorted(found, key=lambda share: (-share.stated, -share.ended, share.name)))


def shares_of(rows: Iterable[tuple[str, str, int, int]]) -> Shares:
    """The shares by person and by kind of step; ``rows`` as person, kind, stated, ended."""
    people: Counter[str] = Counter()
    people_stated: Counter[str] = Counter()
    kinds: Counter[str] = Counter()
    kinds_stated: Counter[str] = Counter()
    for person, kind, stated, ended in rows:
        people[person] += ended
        people_stated[person] += stated
        kinds[kind] += ended
        kinds_stated[kind] += stated
    return Shares(
        people=_ordered(Share(name, people_stated[name], people[name]) for name in people),
        steps=_ordered(Share(name, kinds_stated[name], kinds[name]) for name in kinds),
        total=Share("all", people_stated.total(), people.total()),
    )


def shares_since(since: datetime) -> Shares:
    """Steps that were started since a moment and have ended; left out is not run. 2 queries."""
    rows = (
        StepRecord.objects.filter(
            started_at__gte=since, ended_at__isnull=False, left_out=False, ended_by__isnull=False
        )
        # What was carried over from paper never had a timer to run by.
        .exclude(readings__source=ValueSource.IMPORTED)
        .order_by()
        .values_list("ended_by", "step__kind")
        .annotate(stated=Count("pk", filter=Q(stated_at__isnull=False)), ended=Count("pk"))
    )
    people = User.objects.in_bulk()
    return shares_of(
        (str(people[person]), StepKind(kind).label, stated, ended)
        for person, kind, stated, ended in rows
    )
