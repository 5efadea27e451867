"""What many vessels share and reads too low may mask dirt, and is named."""

from datetime import datetime, timedelta

import pytest
from django.test import Client

from brewhygiene.trends.signals.standing import standings
from brewhygiene.trends.signals.suspects import compare, suspect_words
from tests import clock
from tests.factories import NOW, Cellar, make_test_lot, make_vessel
from tests.histories import Swab, make_history, usual_rlu

pytestmark = [pytest.mark.django_db, pytest.mark.hourly]
CLEANS = 30


def warm_lot(*, until: datetime) -> Cellar:
    """Four vessels whose last four cleans were read with swabs that had stood in the warm."""
    cellar = Cellar()
    warm = make_test_lot(cellar.atp_test, lot="W-1")

    def rlu(swab: Swab) -> int:
        read = usual_rlu(swab, mean=6, shape=4)
        return round(read * 0.15) if swab.lot == warm else read

    make_history(
        cellar=cellar,
        vessels=[make_vessel(name=f"FV {n}", points=2) for n in range(4)],
        cleans=CLEANS,
        rlu=rlu,
        test_lot=lambda turn: warm if turn.number >= CLEANS - 4 else cellar.lot,
        until=until,
    )
    return cellar


def test_lot_of_swabs_that_reads_low_is_named() -> None:
    warm_lot(until=NOW)
    compared = compare(standings(NOW), until=NOW)
    assert compared.shapes is not None
    assert compared.shapes.suspects == ()
    (low,) = compared.low
    assert (low.rise.factor, low.rise.level) == ("test_lot", "W-1")
    words = suspect_words(low, low=True)
    assert words.title == "All readings with ATP tests of lot W-1"
    assert words.why.startswith(f"{low.rise.readings} readings average ")
    assert " Without the lowest vessel it is still −" in words.why
    assert " sigmas below their charts' centres" in words.why
    assert words.causes[0] == "ATP tests kept too warm or too long: read a fresh lot beside it"


def test_lot_that_reads_as_the_others_is_not_named() -> None:
    warm_lot(until=NOW)
    before = NOW - timedelta(days=35)
    assert compare(standings(NOW), until=before).low == ()


def test_vessel_that_reads_low_is_only_clean() -> None:
    cellar = Cellar()
    vessels = [make_vessel(name=f"FV {n}", points=2) for n in range(4)]

    def rlu(swab: Swab) -> int:
        better = swab.turn.vessel == vessels[0] and swab.turn.number >= CLEANS - 6
        return 0 if better else usual_rlu(swab, mean=6, shape=4)

    make_history(cellar=cellar, vessels=vessels, cleans=CLEANS, rlu=rlu)
    assert compare(standings(NOW), until=NOW).low == ()


@pytest.mark.instants
@pytest.mark.parametrize("page", ["signals", "common"])
def test_pages_show_what_reads_low(client: Client, page: str) -> None:
    cellar = warm_lot(until=clock.now())
    client.force_login(cellar.brewer)
    text = client.get(f"/trends/{page}/").content.decode()
    low = text[text.index("Reads too low") :]
    assert "may mask dirt" in low
    assert "▼ All readings with ATP tests of lot W-1" in low
