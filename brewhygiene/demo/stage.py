"""Playing the invented brewery's past: many scripts at once, every deed in the order of time.

The ledger is a chain, so what happened first has to be written first, whatever vessel it
happened on. A script is a generator that yields the moment of its next deed and does the deed
when it is resumed; what it needs from another script it gets by ``yield from``.
"""

import copy
import dataclasses
import heapq
import itertools
import random
import zoneinfo
from collections.abc import Callable, Generator
from datetime import UTC, datetime, time, timedelta

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.models import User

Script = Generator[datetime, None, None]


@dataclasses.dataclass
class _Clock:
    moment: datetime


class Stage:
    """The clock of the play, and the scripts that wait for it."""

    def __init__(
        self, *, now: datetime, zone: zoneinfo.ZoneInfo, say: Callable[[str], None]
    ) -> None:
        self.now = now.astimezone(UTC)
        self.zone = zone
        self.say = say
        self._clock = _Clock(self.now - timedelta(days=365))
        # Always the same brewery: only its dates move.
        self.chance = random.Random(20260310)
        self._order = itertools.count()
        self._waiting: list[tuple[datetime, int, Script]] = []

    @property
    def moment(self) -> datetime:
        """Now in the play."""
        return self._clock.moment

    @moment.setter
    def moment(self, moment: datetime) -> None:
        self._clock.moment = moment

    def aside(self, seed: int) -> "Stage":
        """The same stage with dice of its own: what is played there leaves all else as it is."""
        other = copy.copy(self)
        other.chance = random.Random(seed)
        return other

    def add(self, script: Script) -> None:
        """Let a script wait for its first moment; what lies after now is never played."""
        try:
            moment = next(script).astimezone(UTC)
        except StopIteration:
            return
        if moment < self.moment:
            raise ValueError(f"A script steps back in time, from {self.moment} to {moment}.")
        if moment <= self.now:
            heapq.heappush(self._waiting, (moment, next(self._order), script))

    def play(self) -> None:
        """Play every script to its end, or to now."""
        week = None
        while self._waiting:
            self.moment, _, script = heapq.heappop(self._waiting)
            today = self.moment.astimezone(self.zone).date()
            if (this_week := today - timedelta(days=today.weekday())) != week:
                week = this_week
                self.say(f"  the week of {week:%d %B %Y}")
            self.add(script)

    def at(self, days_ago: int, clock: str) -> datetime:
        """A moment on an earlier day, by the brewery’s own clock, as '06:40'."""
        day = self.now.astimezone(self.zone).date() - timedelta(days=days_ago)
        local = datetime.combine(day, time.fromisoformat(clock), tzinfo=self.zone)
        return local.astimezone(UTC)

    def days_ago(self, moment: datetime) -> int:
        """Whole days of the brewery's own calendar, whatever the hour."""
        today, day = (at.astimezone(self.zone).date() for at in (self.now, moment))
        return (today - day).days

    def ago(self, minutes: float) -> datetime:
        return self.now - timedelta(minutes=minutes)

    def by(self, user: User | None) -> Actor:
        """Somebody, now in the play, on a tablet whose clock runs a little off."""
        drift = timedelta(seconds=self.chance.uniform(-3, 9))
        return Actor(
            user=user,
            now=self.moment,
            address="192.0.2.31" if user is not None else "",
            client_time=self.moment + drift if user is not None else None,
        )
