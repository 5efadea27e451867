"""Every page as somebody who writes 2,5 and Jun 17: no figure and no date is left in another style."""

import re
from html.parser import HTMLParser

from django.test import Client

from brewhygiene.people.models import User
from tests.fuzz.addresses import addresses, moved
from tests.fuzz.pages import closing_its_file

MONTHS = "(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*"
POINT = re.compile(r"\d\.\d")
DAY_FIRST = re.compile(rf"\b\d{{1,2}} {MONTHS}\b")
CLOCK_24 = re.compile(r"(?<![\d:-])(?:[01]\d|2[0-3]):[0-5]\d(?!:?\d)(?! [AP]M)")
HIDDEN = {"script", "style", "code", "pre", "svg", "textarea", "template", "title"}
VOID = {"input", "br", "img", "meta", "link", "hr", "source", "wbr", "col", "use"}


class Shown(HTMLParser):
    """The words of a page, piece by piece, without what is marked as a person's own."""

    def __init__(self) -> None:
        super().__init__()
        self.pieces: list[str] = []
        self._left_out: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in VOID:
            return
        if self._left_out or tag in HIDDEN or "data-as-recorded" in dict(attrs):
            self._left_out.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self._left_out and tag == self._left_out[-1]:
            self._left_out.pop()

    def handle_data(self, data: str) -> None:
        if not self._left_out and data.strip():
            self.pieces.append(" ".join(data.split()))


def otherwise(html: str) -> list[str]:
    page = Shown()
    page.feed(html)
    return [
        piece
        for piece in page.pieces
        if POINT.search(piece) or DAY_FIRST.search(piece) or CLOCK_24.search(piece)
    ]


def test_every_page_is_in_the_style_of_whoever_looks(
    clients: dict[str, Client], people: dict[str, User]
) -> None:
    User.objects.update(decimal_sign=",", date_style="month_first")
    found: dict[str, list[str]] = {}
    for address in addresses():
        if address.route in moved():
            continue
        for path in address.paths:
            with closing_its_file(clients["head brewer"].get(path)) as answer:
                if answer.status_code != 200 or "html" not in answer.get("Content-Type", ""):
                    continue
                if wrong := otherwise(answer.content.decode()):
                    found[path] = wrong
    import json
    open("/tmp/loc/found.json", "w").write(json.dumps(found, ensure_ascii=False, indent=1))
    assert found == {}
