"""What an address asks of the board."""

import pytest

from brewhygiene.board.look import Look


@pytest.mark.parametrize(
    ("query", "look"),
    [
        ({}, Look()),
        ({"kind": "fermenter", "status": "held"}, Look(kind="fermenter", status="held")),
        ({"wall": "", "page": "3"}, Look(wall="dark", page=3)),
        ({"wall": "", "page": "many"}, Look(wall="dark")),
        ({"page": "3"}, Look()),
        ({"wall": ""}, Look(wall="dark")),
        ({"wall": "light"}, Look(wall="light")),
        ({"wall": "pink"}, Look(wall="dark")),
        ({"kind": "teapot", "status": "lost", "sort": "urgent"}, Look()),
    ],
)
def test_look_takes_what_it_knows_and_leaves_the_rest(query: dict[str, str], look: Look) -> None:
    assert Look.asked(query) == look


def test_look_gives_its_address_back() -> None:
    look = Look(kind="fermenter", status="held", wall="dark")
    assert look.query() == "?wall=dark&kind=fermenter&status=held"
    assert look.query(status="") == "?wall=dark&kind=fermenter"
    assert Look().query() == "?"
