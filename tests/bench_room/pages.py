"""What the bench's tests read off its pages."""

import dataclasses
import html
import re
from typing import Any

from django.http import HttpResponse
from django.test import Client

from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.catalogue import BY_SLUG
from brewhygiene.brewery.models import Brewery

_FIGURE = re.compile(r"<dt>([^<]+)</dt>\s*<dd>(.*?)</dd>", re.DOTALL)
_TAGS = re.compile(r"<[^>]+>")
_FIELD = re.compile(r'<div class="field has-error">(.*?)</div>\s*</div>', re.DOTALL)
_ERROR = re.compile(r'<p class="error">(.*?)</p>', re.DOTALL)
_LABEL = r"<label[^>]*>(.*?)</label>"


def first(pattern: str, markup: str) -> str:
    """The group of the first match of a pattern."""
    match = re.search(pattern, markup, re.DOTALL)
    assert match is not None, pattern
    return match[1]


def plain(markup: str) -> str:
    return " ".join(html.unescape(_TAGS.sub(" ", markup)).split())


@dataclasses.dataclass(frozen=True)
class Shown:
    """A figure as it stands on the page."""

    value: str
    uncertainty: str
    unit: str
    note: str

    @property
    def number(self) -> float:
        return float(self.value)


def _part(name: str, markup: str) -> str:
    found = re.search(rf'class="bench-{name}">(.*?)</span>', markup, re.DOTALL)
    return plain(found[1]) if found else ""


def figures(response: HttpResponse) -> dict[str, Shown]:
    """The figures of an answer by their labels; of two alike the first."""
    page = response.content.decode()
    start = page.find('class="bench-figures"')
    found: dict[str, Shown] = {}
    if start < 0:
        return found
    for label, markup in _FIGURE.findall(page[start : page.index("</dl>", start)]):
        value = plain(first(r'class="bench-value">([^<]*)', markup))
        shown = Shown(value, _part("uncertainty", markup).removeprefix("± "), _part("unit", markup),
                      _part("note", markup))  # fmt: skip
        found.setdefault(plain(label), shown)
    return found


def errors(response: HttpResponse) -> dict[str, list[str]]:
    """The messages beside the fields, by the fields' labels."""
    found = {}
    for markup in _FIELD.findall(response.content.decode() + "</div>"):
        label = plain(first(_LABEL, markup)).removesuffix(" optional")
        found[label] = [plain(error) for error in _ERROR.findall(markup)]
    return found


def working(response: HttpResponse) -> list[str]:
    """The lines of the working as plain text."""
    page = response.content.decode()
    lists = re.findall(r'<ol class="bench-steps">(.*?)</ol>', page, re.DOTALL)
    return [
        plain(line) for each in lists for line in re.findall(r"<li>(.*?)</li>", each, re.DOTALL)
    ]


def ask(client: Client, slug: str, **inputs: Any) -> HttpResponse:
    return client.get(f"/bench/{slug}/", inputs)


def example(slug: str, brewery: Brewery) -> dict[str, str]:
    """Every input of a calculator as its empty form shows it."""
    form: Calculator = BY_SLUG[slug]({}, brewery=brewery)
    names = [name for _, part in form.fieldsets for name in part]
    return {name: form.default(name) for name in names if name not in form.filled_from}
