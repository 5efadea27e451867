"""From HTML to PDF, with everything it needs in hand: nothing is fetched from anywhere."""

import re
from datetime import datetime
from functools import lru_cache
from pathlib import Path

from django.contrib.staticfiles import finders

from brewhygiene.reports.pdf.worker_pool import drawn


@lru_cache(maxsize=8)
def stylesheet(name: str) -> str:
    """The text of one of our style sheets, as ``paper-record.css``."""
    found = finders.find(f"brewhygiene/{name}")
    if not isinstance(found, str):
        raise FileNotFoundError(name)
    return Path(found).read_text(encoding="utf-8")


# A tag, which is left alone, or a word that is longer than any real one.
_TAG_OR_LONG_WORD = re.compile(r"<[^>]*>|[^\s<>&]{41,}")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_MAY_BREAK = "\u200b"


def breakable(html: str) -> str:
    """The page with places to break in words of more than 40 signs, digests excepted.

    The style for it (``overflow-wrap``) makes the drawing break ordinary words as well.
    """

    def softened(found: re.Match[str]) -> str:
        word = found.group()
        if word.startswith("<") or _DIGEST.fullmatch(word):
            return word
        return _MAY_BREAK.join(word[start : start + 30] for start in range(0, len(word), 30))

    return _TAG_OR_LONG_WORD.sub(softened, html)


def pdf_of(html: str, *, styles: list[str]) -> bytes:
    """A document as PDF, set by our own style sheets of the given names.

    Raises :class:`worker.OutsideRefused` when the document asks for anything by address, so that
    a page neither waits for a network nor tells one what it holds.
    """
    return drawn(breakable(html), [stylesheet(name) for name in styles])


def zone_words(moment: datetime) -> str:
    """The zone of a local time as it is printed beside it.

    >>> import zoneinfo
    >>> zone_words(datetime(2026, 1, 5, 6, tzinfo=zoneinfo.ZoneInfo("Europe/Copenhagen")))
    'CET, UTC+01:00'
    """
    offset = f"{moment:%z}"
    name = moment.tzname() or ""
    shown = f"UTC{offset[:3]}:{offset[3:5]}"
    return shown if name in ("", "UTC") or name[:1] in "+-" else f"{name}, {shown}"
