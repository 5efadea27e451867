"""Whatever is typed: never an error of the server, a page that breaks later, or half a record.

Forms and addresses are found in the product's own pages. ``FUZZ_INPUTS`` says how many inputs;
``make fuzz`` sends more of them and prints what came of them.
"""

import math
import os
from collections import Counter
from datetime import UTC, datetime
from typing import Any

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import models, transaction
from django.test import Client
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from tests.factories import PASSWORD
from tests.fuzz.addresses import addresses, moved
from tests.fuzz.pages import Form, closing_its_file, forms_of, links_of
from tests.fuzz.values import anything, plausible, spoiled

# In all: four of five are forms that are sent, the rest questions in an address.
INPUTS = int(os.environ.get("FUZZ_INPUTS", "500"))
SHARES = int(os.environ.get("FUZZ_SHARES", "1"))
SEED = int(os.environ.get("FUZZ_SEED", "0"))
FORMS, LOOKS = INPUTS * 4 // 5 // SHARES, INPUTS // 5 // SHARES
# What a look at any page must not find afterwards.
FIRST, LAST = datetime(1990, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)
LARGEST = 2**63 - 1
ROLES = ("head brewer", "cellar", "owner")
# Signing out or changing hands ends the walk of that browser, which is no fault.
LEADS_OUT = ("/sign-out/", "/pin/", "/switch/", "/password/")
AFTERWARDS = ("/", "/release/", "/plates/", "/meters/", "/trends/", "/set-up/")

plain = settings(deadline=None, database=None, suppress_health_check=list(HealthCheck))
# Rows that are no record: they come and go with looks and tries, and a look at a page with a head
# signs one.
NO_RECORD = {"PointStanding", "PinWait", "Head"}


class _UndoError(Exception):
    """Ends an example: what it wrote is taken back, so that the next begins as it did."""


def product_models() -> list[type[models.Model]]:
    return list(apps.get_app_config("brewhygiene").get_models())


def counts() -> dict[str, int]:
    return {
        model.__name__: model._default_manager.count()
        for model in product_models()
        if model.__name__ not in NO_RECORD
    }


def implausible(model: type[models.Model]) -> list[str]:
    """Values of the newest row that a page or another database could not hold."""
    row = model._default_manager.order_by("-pk").first()
    found = []
    for field in model._meta.concrete_fields:
        value = getattr(row, field.attname, None)
        if isinstance(value, str) and ("\x00" in value or len(value) > (field.max_length or 10**6)):
            found.append(f"{model.__name__}.{field.name}: {len(value)} characters")
        elif (
            (isinstance(value, datetime) and not FIRST < value < LAST)
            or (isinstance(value, int) and abs(value) > field_limit(field))
            or (isinstance(value, float) and not math.isfinite(value))
        ):
            found.append(f"{model.__name__}.{field.name}: {value}")
    return found


def field_limit(field: "models.Field[Any, Any]") -> int:
    small = isinstance(field, models.PositiveIntegerField | models.IntegerField) and not isinstance(
        field, models.BigIntegerField
    )
    return 2**31 - 1 if small else LARGEST


class Walker:
    """Knows the forms of every page, as one role sees them."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.forms: list[tuple[str, Form]] = []
        self.queries: set[str] = set()
        for address in addresses():
            if address.route in moved() or f"/{address.route}".startswith(LEADS_OUT):
                continue
            for path in address.paths:
                self._learn(path)

    def _learn(self, path: str) -> None:
        with closing_its_file(self.client.get(path)) as answer:
            if answer.status_code != 200 or "html" not in answer.headers["Content-Type"]:
                return
            html = answer.content.decode()
        self.forms += [(path, form) for form in forms_of(html) if form.method == "post"]
        self.queries |= {link for link in links_of(html) if "?" in link and link[0] in "/?"}

    def usable(self) -> list[tuple[str, Form]]:
        return [
            (path, form)
            for path, form in self.forms
            if not (form.action or path).startswith(LEADS_OUT)
        ]


def filled(data: st.DataObject, form: Form) -> dict[str, Any]:
    """A form as somebody in good faith would send it, but for a few of its fields."""
    names = sorted(name for name in form.fields if name != "csrfmiddlewaretoken")
    worst = data.draw(st.sets(st.sampled_from(names), max_size=3), label="spoiled") if names else ()
    sent: dict[str, Any] = {}
    for name, field in form.fields.items():
        if field.kind == "password":
            sent[name] = "wrong" if name in worst else PASSWORD
        elif field.kind == "file":
            sent[name] = SimpleUploadedFile("a.csv", data.draw(st.binary(max_size=200), label=name))
        else:
            sent[name] = (
                data.draw(spoiled(field), label=name) if name in worst else plausible(field)
            )
    return sent


def looked_at(client: Client, path: str) -> int:
    with closing_its_file(client.get(path)) as answer:
        return int(answer.status_code)


def send_forms(walkers: dict[str, Walker], *, number: int) -> Counter[str]:
    """Forms with a few spoiled fields: what the server answered, and how many were recorded."""
    tally: Counter[str] = Counter()
    before = counts()

    @seed(number)
    @settings(plain, max_examples=FORMS)
    @given(st.data())
    def send(data: st.DataObject) -> None:
        role = data.draw(st.sampled_from(ROLES), label="role")
        walker = walkers[role]
        path, form = data.draw(st.sampled_from(walker.usable()), label="form")
        sent = filled(data, form)
        with pytest.raises(_UndoError), transaction.atomic():  # noqa: PT012 - all is taken back
            with closing_its_file(walker.client.post(form.action or path, sent)) as answer:
                code, goes_to = answer.status_code, answer.headers.get("Location", "")
            assert code < 500
            after = counts()
            tally[str(code)] += 1
            if after != before:
                assert code in (200, 302)
                assert after["Entry"] > before["Entry"]
                tally["recorded"] += 1
                grown = [
                    m for m in product_models() if after.get(m.__name__) != before.get(m.__name__)
                ]
                assert [fault for model in grown for fault in implausible(model)] == []
                more = data.draw(st.sampled_from(walker.forms), label="looked at")[0]
                for page in {*AFTERWARDS, path, goes_to or path, more}:
                    assert looked_at(walker.client, page) < 500
            raise _UndoError

    send()
    return tally


def ask_pages(walkers: dict[str, Walker], *, number: int) -> Counter[str]:
    """Addresses with strange questions: what the server answered."""
    asked: Counter[str] = Counter()

    @seed(number)
    @settings(plain, max_examples=LOOKS)
    @given(st.data())
    def look(data: st.DataObject) -> None:
        walker = walkers[data.draw(st.sampled_from(ROLES), label="role")]
        link = data.draw(st.sampled_from(sorted(walker.queries)), label="link")
        path, _, query = link.partition("?")
        names = [part.partition("=")[0] for part in query.split("#")[0].split("&")]
        with closing_its_file(
            walker.client.get(
                path or "/", {name: data.draw(anything, label=name) for name in names if name}
            )
        ) as answer:
            asked[str(answer.status_code)] += 1
            assert answer.status_code < 500

    look()
    return asked


@pytest.mark.parametrize("share", range(SHARES))
def test_no_input_breaks_the_server_a_page_or_a_record(
    clients: dict[str, Client], share: int
) -> None:
    walkers = {role: Walker(clients[role]) for role in ROLES}
    sent = send_forms(walkers, number=SEED + share)
    asked = ask_pages(walkers, number=SEED + share)
    print(f"\nforms sent: {dict(sent)}; addresses asked: {dict(asked)}")  # noqa: T201
    assert sent["recorded"] > 0
