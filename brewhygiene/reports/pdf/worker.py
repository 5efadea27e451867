"""What a process that draws PDFs does. It imports little: it is started anew where it is wanted."""

import os
import resource
import signal
import sys
import threading
from collections.abc import Sequence
from contextlib import suppress
from multiprocessing import parent_process
from pathlib import Path
from typing import Any


class OutsideRefused(Exception):
    """A page asked for something that is not part of it."""


class PdfFailed(Exception):
    """A page could not be drawn."""


def start() -> None:
    """Set up a process: Ctrl+C at the terminal is the server's to answer, and it ends with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_server, daemon=True).start()


def _end_with_server() -> None:
    server = parent_process()
    assert server is not None
    server.join()
    os._exit(0)


def draw(html: str, sheets: Sequence[str]) -> bytes:
    """A page as PDF, set by the texts of style sheets.

    Raises :class:`OutsideRefused` where it asks for anything by address, else :class:`PdfFailed`.
    """
    import weasyprint
    from weasyprint.urls import FatalURLFetchingError, URLFetcher

    nothing: Any = URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    try:
        document = weasyprint.HTML(string=html, url_fetcher=nothing)
        styles = [weasyprint.CSS(string=text, url_fetcher=nothing) for text in sheets]
        # Tagged, so that a screen reader finds its tables and headings.
        content: bytes = document.write_pdf(stylesheets=styles, pdf_tags=True)
    except FatalURLFetchingError as error:
        raise OutsideRefused(str(error)) from None
    except Exception as error:
        raise PdfFailed(f"{type(error).__name__}: {error}") from error
    return content


def held_mib() -> float:
    """The memory that this process holds, MiB; where the system does not say, the most it held."""
    with suppress(OSError):
        pages = int(Path("/proc/self/statm").read_text().split()[1])
        return pages * resource.getpagesize() / 2**20
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (2**20 if sys.platform == "darwin" else 2**10)
