"""The processes that draw paper: started when it is asked for, at most two at once."""

import atexit
import queue
import subprocess
import sys
from collections.abc import Sequence
from contextlib import contextmanager, suppress
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING

from django.conf import settings

from brewhygiene.reports.pdf.worker import Outcome

if TYPE_CHECKING:
    from collections.abc import Iterator

# A head brewer's record does not wait for somebody's thousand labels.
PRESSES = 2
# Longer than the longest page: a press that takes more has gone wrong.
PATIENCE_S = 180


class PressFailed(Exception):
    """A page could not be drawn."""


class Press:
    """One process that draws, while it lives."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._line: Connection | None = None

    @property
    def pid(self) -> int | None:
        """The process's number, while it was not ended from here."""
        return self._process.pid if self._process is not None else None

    def ask(self, html: str, sheets: Sequence[str]) -> Outcome:
        """What came of drawing a page; raises :class:`PressFailed` where there is no answer."""
        for last in (False, True):
            try:
                return self._ask(html, sheets)
            except (EOFError, OSError) as error:
                # It had waited long enough and left, or was ended from outside: once more.
                self.close()
                if last:
                    raise PressFailed("The process that draws paper ended.") from error
        raise AssertionError

    def _ask(self, html: str, sheets: Sequence[str]) -> Outcome:
        line = self._started()
        line.send((html, tuple(sheets)))
        if not line.poll(PATIENCE_S):
            self.close()
            raise PressFailed(f"No page was drawn within {PATIENCE_S} s.")
        outcome: Outcome = line.recv()
        return outcome

    def _started(self) -> Connection:
        if self._line is not None and self._process is not None and self._process.poll() is None:
            return self._line
        self.close()
        ours, theirs = Pipe()
        with theirs:
            self._process = subprocess.Popen(  # noqa: S603 - this Python, and our own module
                [sys.executable, "-m", "brewhygiene.reports.pdf.worker", str(theirs.fileno())],
                pass_fds=[theirs.fileno()],
                cwd=settings.BASE_DIR,
                stdin=subprocess.DEVNULL,
            )
        self._line = ours
        return ours

    def close(self) -> None:
        """End the process, if there is one."""
        if self._line is not None:
            self._line.close()
        if self._process is not None:
            with suppress(subprocess.TimeoutExpired):
                self._process.wait(timeout=0.2)
            self._process.kill()
            self._process.wait()
        self._process = self._line = None


_EVERY = tuple(Press() for _ in range(PRESSES))
# The one that was used last is taken first: it is warm, and the other may leave.
_free: queue.LifoQueue[Press] = queue.LifoQueue()
for _press in _EVERY:
    _free.put(_press)


@contextmanager
def _a_press() -> "Iterator[Press]":
    press = _free.get()
    try:
        yield press
    finally:
        _free.put(press)


def drawn(html: str, sheets: Sequence[str]) -> Outcome:
    """What came of drawing a page by the texts of style sheets; waits for a free press."""
    with _a_press() as press:
        return press.ask(html, sheets)


@atexit.register
def _close_all() -> None:
    for press in _EVERY:
        press.close()
