"""What a role may not do it cannot send either: every form of every page, from the wrong hands."""

import re
from urllib.parse import urljoin, urlsplit

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.factories import PASSWORD
from tests.fuzz.pages import Field, Form, closing_its_file
from tests.fuzz.test_inputs import Walker, counts
from tests.fuzz.values import plausible

# Where a form goes whatever its numbers are: one of each kind is enough.
NUMBER = re.compile(r"\d+")
# The parts of the house, shown to contributors alone: nothing there is sent anywhere.
SHOWN_ONLY = {"/parts/"}


def sent_by(field: Field) -> object:
    if field.kind == "password":
        return PASSWORD
    if field.kind == "file":
        return SimpleUploadedFile("a.csv", b"a;b\n1;2\n")
    return plausible(field)


@pytest.fixture
def forms(clients: dict[str, Client]) -> dict[str, Form]:
    """A form for each place that a head brewer's pages send one to, by that place."""
    found: dict[str, Form] = {}
    places: set[str] = set()
    for path, form in Walker(clients["head brewer"]).usable():
        goes_to = urlsplit(urljoin(path, form.action)).path
        if (kind := NUMBER.sub("N", goes_to)) not in places | SHOWN_ONLY:
            places.add(kind)
            found[goes_to] = form
    assert len(found) > 60
    return found


def test_whoever_has_no_role_or_is_not_signed_in_records_nothing(
    clients: dict[str, Client], forms: dict[str, Form]
) -> None:
    before = counts()
    answers: dict[tuple[str, str], str] = {}
    for walker in ("signed out", "no role"):
        for goes_to, form in forms.items():
            fields = {name: sent_by(field) for name, field in form.fields.items()}
            with closing_its_file(clients[walker].post(goes_to, fields)) as answer:
                leads_to = answer.headers.get("Location", "").split("?")[0]
                answers[walker, goes_to] = f"{answer.status_code} {leads_to}".strip()
    allowed = {"signed out": "302 /sign-in/", "no role": "403"}
    wrong = {asked: said for asked, said in answers.items() if said != allowed[asked[0]]}
    assert wrong == {}
    assert counts() == before
