"""Paper is drawn by a process of its own, which comes and goes unnoticed."""

import os
import shutil
import signal
import threading
from collections.abc import Iterator
from multiprocessing import Pipe

import pytest

from brewhygiene.reports.pdf import worker as printing
from brewhygiene.reports.pdf.worker_pool import Press, PressFailed
from tests.reports.pdf.text import text_of

PAGE = '<html lang="en"><p>Here</p></html>'


@pytest.fixture
def press() -> Iterator[Press]:
    press = Press()
    yield press
    press.close()


def text(press: Press, html: str = PAGE) -> str:
    outcome, content = press.ask(html, [])
    assert outcome == "done"
    assert isinstance(content, bytes)
    return text_of(content).strip()


def pid_of(press: Press) -> int:
    assert press.pid is not None
    return press.pid


def test_press_is_kept_for_the_next_page(press: Press) -> None:
    assert text(press) == "Here"
    first = pid_of(press)
    assert text(press, PAGE.replace("Here", "There")) == "There"
    assert pid_of(press) == first


@pytest.mark.parametrize("how, gone", [(signal.SIGKILL, False), (signal.SIGTERM, True)])
def test_press_that_is_gone_is_replaced(press: Press, how: int, gone: bool) -> None:
    """Just now, or as one that has waited long enough: nothing tells the server beforehand."""
    text(press)
    first = pid_of(press)
    os.kill(first, how)
    if gone:
        os.waitid(os.P_PID, first, os.WEXITED | os.WNOWAIT)
    assert text(press) == "Here"
    assert pid_of(press) != first


def test_press_that_ends_at_every_page_is_given_up(
    press: Press, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.executable", shutil.which("false"))
    with pytest.raises(PressFailed, match="The process that draws paper ended"):
        press.ask(PAGE, [])


def test_closed_press_leaves_no_process(press: Press) -> None:
    text(press)
    first = pid_of(press)
    press.close()
    assert press.pid is None
    with pytest.raises(ProcessLookupError):
        os.kill(first, 0)


def test_several_at_once_all_get_their_own_page() -> None:
    from brewhygiene.reports.pdf.paper import pdf_of

    found: dict[int, str] = {}

    def ask(number: int) -> None:
        pdf = pdf_of(f'<html lang="en"><p>Page {number}</p></html>', styles=["paper.css"])
        found[number] = text_of(pdf).strip()

    threads = [threading.Thread(target=ask, args=[number]) for number in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == {number: f"Page {number}" for number in range(5)}


def test_what_asks_for_something_outside_is_told_apart_from_what_fails() -> None:
    outcome, words = printing.outcome_of('<img src="http://192.0.2.9/pixel.gif">', [])
    assert outcome == "refused"
    assert "http://192.0.2.9/pixel.gif" in str(words)
    outcome, words = printing.outcome_of(None, [])  # type: ignore[arg-type]
    assert (outcome, str(words).partition(":")[0]) == ("failed", "TypeError")


@pytest.mark.parametrize("kept_mib, answered", [(0, 1), (100_000, 3)])
def test_press_that_holds_much_leaves_after_its_page(
    monkeypatch: pytest.MonkeyPatch, kept_mib: int, answered: int
) -> None:
    monkeypatch.setattr(printing, "KEPT_MIB", kept_mib)
    ours, theirs = Pipe()
    for _ in range(3):
        ours.send((PAGE, ()))
    monkeypatch.setattr(printing, "IDLE_S", 0)
    printing.serve(theirs)
    outcomes = []
    while ours.poll():
        outcomes.append(ours.recv()[0])
    theirs.close()
    ours.close()
    assert outcomes == ["done"] * answered


def test_press_leaves_when_nobody_sends_any_more() -> None:
    ours, theirs = Pipe()
    ours.close()
    printing.serve(theirs)
    theirs.close()
