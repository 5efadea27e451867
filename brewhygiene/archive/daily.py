"""A backup each day by the serving process itself, in a process of its own."""

import logging
import subprocess
import sys
import threading
from collections.abc import Callable
from datetime import datetime, timedelta

from django.conf import settings
from django.utils import timezone

from brewhygiene.archive.notice import newest_made_at

EVERY = timedelta(hours=24)
# After one that failed; a full disk is not emptied at once.
AGAIN_AFTER = timedelta(hours=1)
# The start has other things to do; and what a minute's look at the demonstration leaves behind
# needs no backup.
FIRST_LOOK_S, LOOK_S = 300.0, 600.0

log = logging.getLogger(__name__)


class DailyBackup:
    """Decides when a backup is due, and runs it. ``why`` is why the last try failed, or ''."""

    def __init__(
        self,
        *,
        clock: Callable[[], datetime] = timezone.now,
        newest: Callable[[], datetime | None] = newest_made_at,
        back_up: "Callable[[], str] | None" = None,
    ) -> None:
        self._clock = clock
        self._newest = newest
        self._back_up = back_up or run_backup
        self._failed_at: datetime | None = None
        self.why = ""

    def due(self) -> bool:
        """A day after the newest; a failed try is repeated after an hour."""
        now = self._clock()
        if self._failed_at is not None and now - self._failed_at < AGAIN_AFTER:
            return False
        try:
            newest = self._newest()
        except OSError:
            return True  # the try says what is wrong with the folder
        # One from the future was made by a clock that has been set right since.
        return newest is None or not timedelta(0) <= now - newest < EVERY

    def look(self) -> bool:
        """Back up where one is due; whether it was tried."""
        if not self.due():
            return False
        self.why = self._back_up()
        self._failed_at = self._clock() if self.why else None
        if self.why:
            log.error("The daily backup failed. %s", self.why)
        return True

    def run(self, wait: Callable[[float], bool]) -> None:
        """Look every ten minutes until ``wait`` says to stop."""
        pause = FIRST_LOOK_S
        while not wait(pause):
            self.look()
            pause = LOOK_S


def run_backup() -> str:
    """Back up in a process of its own, so that no page waits for it; why it failed, or ''."""
    outcome = subprocess.run(  # noqa: S603 - this program itself
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "backup"],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    if outcome.returncode == 0:
        return ""
    lines = outcome.stderr.strip().splitlines()
    return lines[-1].removeprefix("CommandError: ") if lines else "It gave no reason."


daily_backup = DailyBackup()


def start_daily_backup() -> threading.Event:
    """Begin the quiet thread; setting what is returned ends it."""
    stop = threading.Event()
    threading.Thread(
        target=daily_backup.run, args=[stop.wait], name="daily backup", daemon=True
    ).start()
    return stop
