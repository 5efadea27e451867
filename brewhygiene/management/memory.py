"""What keeps a server that runs for months small."""

import ctypes
import gc
import os
import signal
import sys
import traceback
from collections.abc import Callable

from django.core.management.base import CommandError
from django.db import connections
from django.urls import get_resolver

# Options of glibc's mallopt(3), from malloc.h.
_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8
LARGE_BYTES = 256 * 1024
# Objects made and not yet gone, and how often the young and the middle-aged are gone through.
_COLLECT_AFTER = (20_000, 20, 20)


def hand_back() -> None:
    """Make the C library hand large blocks back as soon as they are free.

    Left to itself glibc keeps a pool for each thread, and learns from the first large block to
    keep such blocks in it: eight threads then hold what eight sign-ins took, for good. Other C
    libraries have no such call and are left alone.
    """
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
    if mallopt is None:
        return
    mallopt(_ARENA_MAX, 2)
    mallopt(_MMAP_THRESHOLD, LARGE_BYTES)
    mallopt(_TRIM_THRESHOLD, LARGE_BYTES)


def settle() -> None:
    """Let Python's collector pass over what is there once all is loaded: it stays for good.

    Else it goes through all of it every so many pages, and the page that it happens in takes
    twice as long. Called before the first page, with every address known.
    """
    get_resolver().url_patterns  # noqa: B018 - loads every room's views
    gc.collect()
    gc.freeze()
    gc.set_threshold(*_COLLECT_AFTER)


def aside(work: Callable[[], object]) -> None:
    """Do ``work`` in a child of this process, so that the memory it takes goes with it.

    For what is done once, before the first page: there are no threads yet. Raises
    :class:`CommandError` where the work failed; its own words are on the error output.
    """
    connections.close_all()
    sys.stdout.flush()
    sys.stderr.flush()
    # Python goes on quietly where a stop comes while it forks: it has to wait until after.
    stops = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
    child = os.fork()
    if child == 0:
        code = 1
        try:
            signal.pthread_sigmask(signal.SIG_SETMASK, stops)
            work()
            connections.close_all()
            code = 0
        except SystemExit:
            pass
        except BaseException:  # noqa: BLE001 - nothing of a child may go on in the server's place
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    try:
        signal.pthread_sigmask(signal.SIG_SETMASK, stops)
        _, status = os.waitpid(child, 0)
    except BaseException:
        os.kill(child, signal.SIGTERM)
        os.waitpid(child, 0)
        raise
    if status != 0:
        raise CommandError("The server could not be made ready.")
