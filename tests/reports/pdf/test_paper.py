"""Paper is drawn from what is in hand: nothing outside is asked for anything."""

import io
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pypdf
import pytest

from brewhygiene.reports.pdf.paper import breakable, pdf_of, zone_words
from brewhygiene.reports.pdf.worker import OutsideRefused
from tests.reports.pdf.text import text_of

PIXEL = "data:image/gif;base64,R0lGODlhAQABAIAAAAAAAP///yH5BAEAAAAALAAAAAABAAEAAAIBRAA7"


@pytest.mark.parametrize(
    "html",
    [
        '<img src="http://192.0.2.9/pixel.gif">',
        '<img src="https://192.0.2.9/pixel.gif">',
        '<img src="file:///etc/hostname">',
        '<link rel="stylesheet" href="ftp://192.0.2.9/sheet.css">',
        '<p style="background: url(http://192.0.2.9/pixel.gif)">x</p>',
        '<style>@import url("http://192.0.2.9/sheet.css");</style>',
    ],
)
def test_paper_refuses_everything_from_outside(html: str) -> None:
    with pytest.raises(OutsideRefused):
        pdf_of(html, styles=["paper/sheet.css"])


def test_paper_takes_what_stands_in_the_page_itself() -> None:
    html = f'<html lang="en"><p>Here</p><img src="{PIXEL}" alt=""></html>'
    pdf = pdf_of(html, styles=["paper/sheet.css"])
    assert text_of(pdf).split() == ["Here", "Page", "1", "of", "1"]


def test_paper_is_tagged_for_screen_readers() -> None:
    pdf = pdf_of('<html lang="en"><h1>Here</h1></html>', styles=["paper/sheet.css"])
    root = pypdf.PdfReader(io.BytesIO(pdf)).root_object
    assert root["/MarkInfo"] == {"/Marked": True}
    assert root["/Lang"] == "en"


def test_missing_style_sheet_is_an_error() -> None:
    with pytest.raises(FileNotFoundError):
        pdf_of("<p>Here</p>", styles=["paper-of-nothing.css"])


@pytest.mark.parametrize(
    ("zone", "words"),
    [
        ("UTC", "UTC+00:00"),
        ("Europe/Copenhagen", "CEST, UTC+02:00"),
        ("America/Sao_Paulo", "UTC-03:00"),
        ("Asia/Kolkata", "IST, UTC+05:30"),
    ],
)
def test_zone_is_named_with_its_distance_from_utc(zone: str, words: str) -> None:
    moment = datetime(2026, 7, 1, 6, tzinfo=UTC)
    assert zone_words(moment.astimezone(ZoneInfo(zone))) == words


@pytest.mark.parametrize(
    ("html", "softened"),
    [
        ("<p>An ordinary sentence</p>", "<p>An ordinary sentence</p>"),
        ("<p>" + "x" * 41 + "</p>", "<p>" + "x" * 30 + "\u200b" + "x" * 11 + "</p>"),
        (f'<a title="{"x" * 99}">y</a>', f'<a title="{"x" * 99}">y</a>'),
        ("<code>" + "ab" * 32 + "</code>", "<code>" + "ab" * 32 + "</code>"),
        ("&quot;" * 30, "&quot;" * 30),
    ],
)
def test_only_words_longer_than_any_real_one_may_break(html: str, softened: str) -> None:
    assert breakable(html) == softened
