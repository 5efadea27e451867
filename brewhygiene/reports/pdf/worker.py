"""Draws pages as PDF: ``python -m brewhygiene.reports.pdf.worker FD``, a process of its own.

Drawing a thousand labels takes hundreds of megabytes and seconds of the processor, and Python
gives little of that memory back. Here it costs the server neither: :mod:`.press` starts this
process when paper is asked for, and it ends when none is.
"""

import os
import resource
import signal
import sys
from collections.abc import Sequence
from contextlib import suppress
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Literal

# How long it waits for the next page, and how much memory it may hold and be kept.
IDLE_S = 120
KEPT_MIB = 150

Outcome = tuple[Literal["done", "refused", "failed"], bytes | str]


def draw(html: str, sheets: Sequence[str]) -> bytes:
    """A page as PDF, set by the texts of style sheets.

    Raises weasyprint's ``FatalURLFetchingError`` where it asks for anything by address.
    """
    import weasyprint
    from weasyprint.urls import URLFetcher

    nothing: Any = URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    document = weasyprint.HTML(string=html, url_fetcher=nothing)
    styles = [weasyprint.CSS(string=text, url_fetcher=nothing) for text in sheets]
    # Tagged, so that a screen reader finds its tables and headings.
    content: bytes = document.write_pdf(stylesheets=styles, pdf_tags=True)
    return content


def outcome_of(html: str, sheets: Sequence[str]) -> Outcome:
    """What came of drawing a page."""
    from weasyprint.urls import FatalURLFetchingError

    try:
        return "done", draw(html, sheets)
    except FatalURLFetchingError as error:
        return "refused", str(error)
    except Exception as error:  # noqa: BLE001 - told to the server, which raises it there
        return "failed", f"{type(error).__name__}: {error}"


def held_mib() -> float:
    """The memory that this process holds, MiB; where the system does not say, the most it held."""
    with suppress(OSError):
        pages = int(Path("/proc/self/statm").read_text().split()[1])
        return pages * resource.getpagesize() / 2**20
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (2**20 if sys.platform == "darwin" else 2**10)


def serve(connection: Connection) -> None:
    """Draw what is sent until nobody sends any more, or too much memory is held."""
    with suppress(EOFError, OSError):
        while connection.poll(IDLE_S):
            html, sheets = connection.recv()
            connection.send(outcome_of(html, sheets))
            if held_mib() > KEPT_MIB:
                return


if __name__ == "__main__":
    # Ctrl+C at the terminal is the server's to answer; its end is seen as the end of the line.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.set_inheritable(int(sys.argv[1]), False)
    serve(Connection(int(sys.argv[1])))
