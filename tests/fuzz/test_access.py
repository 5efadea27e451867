"""Who may look at what: every address, as each role and signed out, against one table.

A new address fails until it has its row in ``access.csv``. After a change on purpose:
``UPDATE_ACCESS=1 pytest tests/fuzz/test_access.py``, then read what moved.
"""

import csv
import os
import re
from pathlib import Path

import pytest
from django.test import Client

from brewhygiene.ledger.check.whole import check_everything
from tests.fuzz.addresses import addresses, moved, routes
from tests.fuzz.pages import closing_its_file

TABLE = Path(__file__).with_name("access.csv")
WALKERS = ("signed out", "no role", "cellar", "head brewer", "owner")


def written() -> dict[str, dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        lines = (line for line in file if not line.startswith("#"))
        return {row.pop("address"): row for row in csv.DictReader(lines)}


def answered(clients: dict[str, Client]) -> tuple[dict[str, dict[str, str]], set[str]]:
    """What each address answers to each, and which of them a browser may keep."""
    found: dict[str, dict[str, str]] = {}
    kept = set()
    for address in addresses():
        if address.route in moved():
            continue
        found[address.name] = row = {}
        for walker in WALKERS:
            with closing_its_file(clients[walker].get(address.paths[0])) as answer:
                row[walker] = str(answer.status_code)
                if "no-store" not in answer.get("Cache-Control", ""):
                    kept.add(address.name)
    return found, kept


def test_every_address_answers_each_role_as_the_table_says_and_no_page_is_kept(
    clients: dict[str, Client],
) -> None:
    found, kept = answered(clients)
    if os.environ.get("UPDATE_ACCESS"):
        with TABLE.open("w", encoding="utf-8", newline="") as file:
            file.write("# What each address answers to a look, by who looks. See test_access.py.\n")
            rows = csv.writer(file, lineterminator="\n")
            rows.writerow(["address", *WALKERS])
            rows.writerows([name, *row.values()] for name, row in sorted(found.items()))
    assert found == written()
    # A photograph may be kept, for it shows steel; those asked for here have no file.
    assert kept == set()


def test_signed_out_sees_the_way_in_and_whether_the_server_is_well() -> None:
    seen = {name for name, row in written().items() if row["signed out"] == "200"}
    # The app's name and its worker: a browser asks for the first without any cookie.
    app = {"delivery:manifest", "delivery:worker"}
    # How a device comes to trust the certificate, and whether it does.
    trust = {"health:trust", "health:reached"}
    assert seen == {"people:sign_in", "health:healthz", *app, *trust}


def test_nobody_is_ever_answered_by_an_error() -> None:
    codes = {code for row in written().values() for code in row.values()}
    assert codes <= {"200", "302", "403", "404", "405"}


def test_every_number_in_an_address_has_its_meaning(story: None) -> None:
    assert [address.name for address in addresses() if not address.paths] == []


def test_story_has_a_ledger_that_covers_it(story: None) -> None:
    assert list(check_everything()) == []


def test_walk_finds_addresses_below_other_addresses() -> None:
    names = set(routes())
    assert {"board:board", "regimes:regimes", "bench:calculator", "people:sign_in"} <= names
    assert len(names) > 100


HOSTILE = {"int": "9" * 30, "str": "a%00b", "slug": "x" * 300, "path": "%00/%F0%9F%8D%BA/"}


def hostile(route: str) -> str:
    """The route filled in with what no database and no page could have."""
    return "/" + re.sub(r"<(\w+):\w+>", lambda found: HOSTILE[found[1]], route)


@pytest.mark.parametrize("walker", ["head brewer", "signed out"])
@pytest.mark.parametrize("method", ["get", "post"])
def test_no_address_is_broken_by_what_stands_in_it(
    clients: dict[str, Client], walker: str, method: str
) -> None:
    """Numbers of thirty digits, null bytes, and words without an end."""
    asked = [hostile(route) for route in routes().values() if "<" in route]
    assert len(asked) > 60
    send = getattr(clients[walker], method)
    answers = {path: send(path).status_code for path in asked}
    assert {path: code for path, code in answers.items() if code not in LOST} == {}


# Not there, not for them, or led away to where an address moved and to signing in.
LOST = {301, 302, 308, 403, 404, 405}
