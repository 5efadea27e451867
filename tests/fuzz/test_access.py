"""Who may look at what: every address, as each role and signed out, against one table.

A new address fails until it has its row in ``access.csv``. After a change on purpose:
``UPDATE_ACCESS=1 pytest tests/fuzz/test_access.py``, then read what moved.
"""

import csv
import os
from pathlib import Path

import pytest
from django.test import Client

from brewhygiene.ledger.check.whole import check_everything
from tests.fuzz.addresses import Address, addresses, moved, routes
from tests.fuzz.pages import closing_its_file

TABLE = Path(__file__).with_name("access.csv")
WALKERS = ("signed out", "no role", "cellar", "head brewer", "owner")
# What sends everybody away from where they are: asked by nobody else's browser.
LEADS_OUT = {"people:sign_out"}


def written() -> dict[str, dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        lines = (line for line in file if not line.startswith("#"))
        return {row.pop("address"): row for row in csv.DictReader(lines)}


def answered(clients: dict[str, Client]) -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = {}
    for address in addresses():
        if address.route in moved():
            continue
        found[address.name] = {walker: status(clients[walker], address) for walker in WALKERS}
    return found


def status(client: Client, address: Address) -> str:
    with closing_its_file(client.get(address.paths[0])) as answer:
        return str(answer.status_code)


def test_every_address_answers_each_role_as_the_table_says(clients: dict[str, Client]) -> None:
    found = answered(clients)
    if os.environ.get("UPDATE_ACCESS"):
        with TABLE.open("w", encoding="utf-8", newline="") as file:
            file.write("# What each address answers to a look, by who looks. See test_access.py.\n")
            rows = csv.writer(file, lineterminator="\n")
            rows.writerow(["address", *WALKERS])
            rows.writerows([name, *row.values()] for name, row in sorted(found.items()))
    assert found == written()


def test_signed_out_sees_the_way_in_and_whether_the_server_is_well() -> None:
    seen = {name for name, row in written().items() if row["signed out"] == "200"}
    assert seen == {"people:sign_in", "health:healthz"}


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


@pytest.mark.parametrize("walker", ["head brewer", "signed out"])
def test_number_beyond_every_database_is_not_found(clients: dict[str, Client], walker: str) -> None:
    for path in ("/vessels/" + "9" * 30 + "/", "/atp-readings/" + "9" * 30 + "/"):
        assert clients[walker].get(path).status_code in (302, 404)
