"""What keeps the server small: heavy work aside, and free memory handed back."""

import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from tests import clock

ROOT = Path(__file__).parents[2]


def run(code: str) -> subprocess.CompletedProcess[str]:
    """In a process of its own: what is tested forks, or sets the allocator for good."""
    return subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code)],
        cwd=ROOT,
        env={
            **clock.environment(),
            "PATH": os.environ["PATH"],
            "DJANGO_SETTINGS_MODULE": "tests.settings",
        },
        capture_output=True,
        text=True,
        check=False,
    )


def test_work_aside_is_done_and_leaves_nothing_in_the_process() -> None:
    found = run("""
        from pathlib import Path
        import tempfile
        from brewhygiene.management.memory import aside
        here = []
        with tempfile.TemporaryDirectory() as folder:
            there = Path(folder) / "done"
            aside(lambda: (here.append(1), there.write_text("done")))
            print(there.read_text(), here)
    """)
    assert (found.stdout, found.stderr) == ("done []\n", "")


@pytest.mark.parametrize(
    "work, words",
    [("1 / 0", "ZeroDivisionError: division by zero"), ("__import__('sys').exit(3)", "")],
)
def test_work_aside_that_fails_stops_the_start(work: str, words: str) -> None:
    found = run(f"""
        from django.core.management.base import CommandError
        from brewhygiene.management.memory import aside
        try:
            aside(lambda: {work})
        except CommandError as error:
            print(error)
    """)
    assert found.stdout == "The server could not be made ready.\n"
    assert words in found.stderr


def test_work_aside_is_ended_with_the_start() -> None:
    found = run("""
        import os, signal, threading, time
        from brewhygiene.management.memory import aside
        def stop(*_):
            raise SystemExit(0)
        signal.signal(signal.SIGTERM, stop)
        parent = os.getpid()
        began = time.monotonic()
        try:
            aside(lambda: (os.kill(parent, signal.SIGTERM), time.sleep(60)))
        except SystemExit:
            print("stopped", time.monotonic() - began < 30)
        try:
            os.waitpid(-1, 0)
        except ChildProcessError:
            print("no child is left")
    """)
    assert found.stdout == "stopped True\nno child is left\n"


# Elsewhere the allocator is not told anything, and there is nothing to hold it to.
if sys.platform == "linux":

    def test_large_blocks_are_handed_back_by_every_thread() -> None:
        """Eight threads that each took and freed 20 MB, as a sign-in does."""
        found = run("""
            import ctypes, threading
            from pathlib import Path
            from brewhygiene.management.memory import hand_back
            hand_back()
            c = ctypes.CDLL(None)
            c.malloc.restype = ctypes.c_void_p
            c.free.argtypes = [ctypes.c_void_p]
            def held():
                return int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 1e6
            before = held()
            def take():
                for _ in range(3):
                    block = c.malloc(20_000_000)
                    ctypes.memset(block, 1, 20_000_000)
                    c.free(block)
            threads = [threading.Thread(target=take) for _ in range(8)]
            for thread in threads: thread.start()
            for thread in threads: thread.join()
            print(held() - before < 10)
        """)
        assert (found.stdout, found.stderr) == ("True\n", "")


def test_settled_server_goes_through_what_is_new_only() -> None:
    found = run("""
        import django, gc, sys
        django.setup()
        from brewhygiene.management.memory import settle
        settle()
        print(gc.get_freeze_count() > 50_000, gc.get_count()[0] < gc.get_threshold()[0])
        print("brewhygiene.trends.points.views" in sys.modules)
    """)
    assert (found.stdout, found.stderr) == ("True True\nTrue\n", "")
