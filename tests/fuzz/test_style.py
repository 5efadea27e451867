"""Every page as somebody who writes 2,5 and Jun 17: no figure and no date is left otherwise."""

import re
from html.parser import HTMLParser
from urllib.parse import urlencode

import pytest
from django.test import Client

from brewhygiene.bench.catalogue import BY_SLUG
from brewhygiene.people.models import User
from brewhygiene.quantities.style import DATES, DECIMALS
from brewhygiene.turnarounds.models import StepReading
from tests.fuzz.addresses import addresses, moved
from tests.fuzz.pages import closing_its_file, forms_of

MONTHS = "(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*"
OTHERWISE = re.compile(
    r"\d\.\d"
    rf"|\b\d{{1,2}} {MONTHS}\b"
    r"|(?<![\d:-])(?:[01]\d|2[0-3]):[0-5]\d(?!:?\d)(?! [AP]M)"
)
# Addresses, versions and sections; titles of codes; numbers of steels.
NO_FIGURE = re.compile(r"\d+(?:\.\d+){2,}|CFR \d+\.\d+|\b1\.4\d{3}\b")
# What is no word of a page for somebody, and an example of a file's lines.
LEFT_OUT = {"script", "style", "code", "pre", "textarea", "template"}
VOID = {"input", "br", "img", "meta", "link", "hr", "source", "wbr", "col"}


class Shown(HTMLParser):
    """The words of a page, piece by piece, without what is marked as recorded."""

    def __init__(self) -> None:
        super().__init__()
        self.pieces: list[str] = []
        self._within: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID and (
            self._within or tag in LEFT_OUT or "data-as-recorded" in dict(attrs)
        ):
            self._within.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self._within and tag == self._within[-1]:
            self._within.pop()

    def handle_data(self, data: str) -> None:
        if not self._within and data.strip():
            self.pieces.append(" ".join(data.split()))


def otherwise(html: str, *, recorded: set[str]) -> list[str]:
    """The pieces of a page with a figure or a date in another style."""
    page = Shown()
    page.feed(html)
    found = []
    for piece in page.pieces:
        left = piece
        for words in recorded:
            left = left.replace(words, "")
        if OTHERWISE.search(NO_FIGURE.sub("", left)):
            found.append(piece)
    return found


@pytest.mark.parametrize(
    ("html", "found"),
    [
        ("<p>2.5 hL</p>", ["2.5 hL"]),
        ("<p>2,5 hL</p>", []),
        ("<p>on 7 Jun</p>", ["on 7 Jun"]),
        ("<p>Jun 7, 2026, 2:05 PM</p>", []),
        ("<p>at 14:05</p>", ["at 14:05"]),
        ("<td data-as-recorded>2.5<br></td><td>192.0.2.7</td>", []),
        ("<p>2.1 % w/w</p>", []),
        ("<pre>2.5</pre><b>3.5</b>", ["3.5"]),
    ],
)
def test_what_is_otherwise_is_found(html: str, found: list[str]) -> None:
    assert otherwise(html, recorded={"2.1 % w/w"}) == found


def looked_at(client: Client, path: str) -> dict[str, str]:
    """A page, and the answers to what it would ask for by itself, by their addresses."""
    found = {}
    with closing_its_file(client.get(path)) as answer:
        if answer.status_code != 200 or "html" not in answer.get("Content-Type", ""):
            return {}
        found[path] = answer.content.decode()
    for form in forms_of(found[path]):
        if form.method == "get" and form.action.startswith("/bench/"):
            sent = {field.name: field.value for field in form.fields.values()}
            asked = client.get(path, sent)
            found[f"{path}?{urlencode(sent)}"] = asked.content.decode()
    return found


def test_every_page_is_in_the_style_of_whoever_looks(
    clients: dict[str, Client], people: dict[str, User]
) -> None:
    User.objects.update(decimal_sign=",", date_style="month_first")
    # A reading is shown as it was typed; and a choice of styles shows them all.
    recorded = {*StepReading.objects.values_list("typed", flat=True)}
    recorded |= {*DECIMALS.values(), *DATES.values()}
    pages: dict[str, str] = {}
    for address in addresses():
        # The pieces that pages are made of show themselves with words of their own.
        if address.route in moved() or address.route == "parts/":
            continue
        calculators = [f"/bench/{slug}/" for slug in BY_SLUG]
        for path in calculators if address.name == "bench:calculator" else address.paths:
            pages |= looked_at(clients["head brewer"], path)
    found = {path: otherwise(html, recorded=recorded) for path, html in pages.items()}
    assert {path: wrong for path, wrong in found.items() if wrong} == {}
    assert len(pages) > 150
    # The calculators have answered their examples.
    assert len([path for path in pages if path.startswith("/bench/") and "?" in path]) >= 15
