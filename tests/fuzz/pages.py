"""The forms that a page shows, read from its HTML as a browser would."""

import dataclasses
from collections.abc import Iterator
from contextlib import contextmanager
from html.parser import HTMLParser
from typing import Any

VOID = {"submit", "button", "image", "reset"}


@dataclasses.dataclass
class Field:
    """A field by its name: what it would be sent with, and what else it offers."""

    name: str
    kind: str
    value: str
    offered: list[str] = dataclasses.field(default_factory=list)


@dataclasses.dataclass
class Form:
    """A form: where it goes, how, and with which fields."""

    action: str
    method: str
    fields: dict[str, Field] = dataclasses.field(default_factory=dict)

    @property
    def is_file(self) -> bool:
        return any(field.kind == "file" for field in self.fields.values())


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.links: list[str] = []
        self._form: Form | None = None
        self._select: Field | None = None
        self._text: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._form = Form(given.get("action", ""), given.get("method", "get").lower())
            self.forms.append(self._form)
        elif tag == "a" and "href" in given:
            self.links.append(given["href"])
        elif self._form is not None and tag in ("input", "select", "textarea", "button"):
            self._field(tag, given)
        elif tag == "option" and self._select is not None:
            self._select.offered.append(given.get("value", ""))
            if "selected" in given or not self._select.value:
                self._select.value = given.get("value", "")

    def _field(self, tag: str, given: dict[str, str]) -> None:
        assert self._form is not None
        kind = given.get("type", "text") if tag == "input" else tag
        if given.get("inputmode") in ("decimal", "numeric"):
            kind = "number"
        name = given.get("name", "")
        if not name or kind in VOID:
            return
        field = self._form.fields.setdefault(name, Field(name, kind, ""))
        if kind in ("radio", "checkbox"):
            field.offered.append(given.get("value", "on"))
            if "checked" in given:
                field.value = given.get("value", "on")
        elif tag == "select":
            self._select = field
        elif tag == "textarea":
            self._text = field
        else:
            field.value = given.get("value", "")

    def handle_data(self, data: str) -> None:
        if self._text is not None:
            self._text.value += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None
        elif tag == "select":
            self._select = None
        elif tag == "textarea":
            self._text = None


def read(html: str) -> _Reader:
    """What of a page can be sent and followed."""
    reader = _Reader()
    reader.feed(html)
    return reader


def forms_of(html: str) -> list[Form]:
    return read(html).forms


def links_of(html: str) -> list[str]:
    return read(html).links


@contextmanager
def closing_its_file(answer: Any) -> Iterator[Any]:
    """The answer, whose file is closed at the end; closing all of it would close the database."""
    try:
        yield answer
    finally:
        for closer in getattr(answer, "_resource_closers", ()) if answer.streaming else ():
            closer()
