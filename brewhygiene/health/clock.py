"""Whether this machine's clock has gone back behind what is recorded already."""

import dataclasses
import threading
from datetime import UTC, datetime, timedelta

# Two machines' clocks, or one that is set by the network, differ by seconds.
TOLERANCE = timedelta(minutes=2)


@dataclasses.dataclass(frozen=True)
class GoneBack:
    """The clock, and what was recorded later than it says."""

    now: datetime
    recorded_at: datetime

    def __str__(self) -> str:
        return (
            f"This server's clock has gone back: it says {_clock(self.now)}, and the last entry "
            f"was recorded at {_clock(self.recorded_at)} UTC."
        )


WHAT_TO_DO = (
    "Set the clock of the server. If the clock is right and the last entry was recorded while it "
    "was wrong, start the server with manage.py serve --clock-is-right."
)


def _clock(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y-%m-%d %H:%M}"


class ClockWatch:
    """The latest moment that this server knows to have passed.

    Armed by the server's start with the ledger's last entry, and moved on by every form that was
    recorded: no page asks the database for it. Unarmed it never says anything.
    """

    def __init__(self) -> None:
        self._latest: datetime | None = None
        self._lock = threading.Lock()

    def arm(self, recorded_at: datetime | None) -> None:
        with self._lock:
            self._latest = recorded_at

    def passed(self, now: datetime) -> None:
        """Something was recorded now."""
        with self._lock:
            if self._latest is not None and now > self._latest:
                self._latest = now

    def gone_back(self, now: datetime) -> GoneBack | None:
        latest = self._latest
        if latest is None or now >= latest - TOLERANCE:
            return None
        return GoneBack(now, latest)


clock_watch = ClockWatch()
