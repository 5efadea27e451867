"""The processes that draw PDFs: started when one is asked for, at most two at once.

Drawing a thousand labels takes hundreds of megabytes, and Python gives little of that back. Here
it goes with its process.
"""

import os
import signal
import threading
from collections.abc import Sequence
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
from multiprocessing import get_context
from queue import LifoQueue

from brewhygiene.reports.pdf.worker import PdfFailed, draw, held_mib, start

# A head brewer's record does not wait for somebody's thousand labels.
WORKERS = 2
# Longer than the longest page: a worker that takes more has gone wrong.
PATIENCE_S = 180
# How long a worker waits for the next page, and how much memory it may hold and be kept.
IDLE_S = 120
KEPT_MIB = 150


class PdfWorker:
    """One process that draws, while it is wanted."""

    def __init__(self) -> None:
        self.pid: int | None = None
        self.idle: threading.Timer | None = None
        self._pool: ProcessPoolExecutor | None = None
        self._lock = threading.RLock()

    def draw(self, html: str, sheets: Sequence[str]) -> bytes:
        """A page as PDF; raises as :func:`worker.draw`, and ``PdfFailed`` where there is none."""
        with self._lock:
            for last in (False, True):
                try:
                    return self._draw(html, sheets)
                except BrokenExecutor as error:
                    # It was ended from outside: once more.
                    self.close()
                    if last:
                        raise PdfFailed("The process that draws PDFs ended.") from error
        raise AssertionError

    def _draw(self, html: str, sheets: Sequence[str]) -> bytes:
        if self.idle is not None:
            self.idle.cancel()
        if self._pool is None:
            self._pool = ProcessPoolExecutor(1, get_context("spawn"), start)
            self.pid = self._pool.submit(os.getpid).result()
        try:
            return self._pool.submit(draw, html, tuple(sheets)).result(PATIENCE_S)
        except TimeoutError as error:
            assert self.pid is not None
            os.kill(self.pid, signal.SIGKILL)
            self.close()
            raise PdfFailed(f"No PDF was drawn within {PATIENCE_S} s.") from error
        finally:
            if self._pool is not None:
                self._keep_or_end(self._pool)

    def _keep_or_end(self, pool: ProcessPoolExecutor) -> None:
        if pool.submit(held_mib).result() > KEPT_MIB:
            self.close()
            return
        self.idle = threading.Timer(IDLE_S, self.close)
        self.idle.daemon = True
        self.idle.start()

    def close(self) -> None:
        """End the process, if there is one."""
        with self._lock:
            if self._pool is not None:
                self._pool.shutdown()
            self._pool = self.pid = None


# The one that was used last is taken first: it is warm, and the other may end.
_free: LifoQueue[PdfWorker] = LifoQueue()
for _ in range(WORKERS):
    _free.put(PdfWorker())


def drawn(html: str, sheets: Sequence[str]) -> bytes:
    """A page as PDF by the texts of style sheets; waits for a free worker."""
    worker = _free.get()
    try:
        return worker.draw(html, sheets)
    finally:
        _free.put(worker)
