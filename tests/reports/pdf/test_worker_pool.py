"""PDFs are drawn by processes of their own, which come and go unnoticed."""

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from concurrent.futures.process import BrokenProcessPool

import pytest

from brewhygiene.reports.pdf import worker, worker_pool
from brewhygiene.reports.pdf.worker import OutsideRefused, PdfFailed
from brewhygiene.reports.pdf.worker_pool import PdfWorker
from tests.reports.pdf.text import text_of

PAGE = '<html lang="en"><p>Here</p></html>'


@pytest.fixture
def one() -> Iterator[PdfWorker]:
    one = PdfWorker()
    yield one
    one.close()


def text(one: PdfWorker, html: str = PAGE) -> str:
    return text_of(one.draw(html, [])).strip()


def pid_of(one: PdfWorker) -> int:
    assert one.pid is not None
    return one.pid


def gone(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    return False


def test_worker_is_kept_for_the_next_page(one: PdfWorker) -> None:
    assert text(one) == "Here"
    first = pid_of(one)
    assert text(one, PAGE.replace("Here", "There")) == "There"
    assert pid_of(one) == first


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_worker_that_is_gone_is_replaced(one: PdfWorker, how: int) -> None:
    text(one)
    first = pid_of(one)
    os.kill(first, how)
    assert text(one) == "Here"
    assert pid_of(one) != first


def test_worker_that_ends_at_every_page_is_given_up(
    one: PdfWorker, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries = []

    def ends(*args: object) -> bytes:
        tries.append(one.pid)
        raise BrokenProcessPool

    monkeypatch.setattr(one, "_draw", ends)
    with pytest.raises(PdfFailed, match=r"^The process that draws PDFs ended\.$"):
        one.draw(PAGE, [])
    assert len(tries) == 2


def test_worker_that_takes_too_long_is_ended(
    one: PdfWorker, monkeypatch: pytest.MonkeyPatch
) -> None:
    text(one)
    first = pid_of(one)
    os.kill(first, signal.SIGSTOP)
    monkeypatch.setattr(worker_pool, "PATIENCE_S", 0.01)
    with pytest.raises(PdfFailed, match=r"^No PDF was drawn within 0\.01 s\.$"):
        one.draw(PAGE, [])
    assert (one.pid, gone(first)) == (None, True)


def test_worker_that_is_not_wanted_is_ended_after_two_minutes(one: PdfWorker) -> None:
    text(one)
    first, idle = pid_of(one), one.idle
    assert idle is not None
    assert (idle.interval, idle.is_alive(), idle.daemon) == (120, True, True)
    text(one)
    assert idle.finished.is_set()  # it was wanted meanwhile: its time begins again
    again = one.idle
    assert again is not None
    assert not again.finished.is_set()
    again.function()
    assert (one.pid, gone(first)) == (None, True)


@pytest.mark.parametrize("kept_mib, kept", [(0, False), (100_000, True)])
def test_worker_that_holds_much_is_ended_after_its_page(
    one: PdfWorker, monkeypatch: pytest.MonkeyPatch, kept_mib: int, kept: bool
) -> None:
    monkeypatch.setattr(worker_pool, "KEPT_MIB", kept_mib)
    assert text(one) == "Here"
    assert (one.pid is not None) is kept


def test_memory_that_may_be_kept_is_bounded() -> None:
    assert (worker_pool.WORKERS, worker_pool.KEPT_MIB) == (2, 150)
    assert 10 < worker.held_mib() < 10_000


def test_two_workers_draw_all_that_is_asked_at_once() -> None:
    from brewhygiene.reports.pdf.paper import pdf_of

    found: dict[int, str] = {}

    def ask(number: int) -> None:
        pdf = pdf_of(f'<html lang="en"><p>Page {number}</p></html>', styles=["paper/sheet.css"])
        found[number] = text_of(pdf).strip()

    threads = [threading.Thread(target=ask, args=[number]) for number in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == {number: f"Page {number} Page 1 of 1" for number in range(5)}
    assert worker_pool._free.qsize() == 2


def test_what_asks_for_something_outside_is_told_apart_from_what_fails() -> None:
    with pytest.raises(OutsideRefused, match=r"http://192\.0\.2\.9/pixel\.gif"):
        worker.draw('<img src="http://192.0.2.9/pixel.gif">', [])
    with pytest.raises(PdfFailed, match=r"^TypeError: "):
        worker.draw(None, [])  # type: ignore[arg-type]


def test_worker_ends_with_its_server() -> None:
    code = (
        "import os\n"
        "from brewhygiene.reports.pdf.worker_pool import PdfWorker\n"
        "if __name__ == '__main__':\n"
        "    one = PdfWorker()\n"
        f"    one.draw({PAGE!r}, [])\n"
        "    print(one.pid, flush=True)\n"
        "    os.kill(os.getpid(), 9)\n"
    )
    # The worker has the pipe too, so that there is an answer only once both have ended.
    server = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=120
    )
    assert (server.returncode, server.stdout.strip().isdigit()) == (-signal.SIGKILL, True)
