"""The rows behind each figure: as many as the figure says."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from brewhygiene.plates.models import Plate
from brewhygiene.trends.overview.cards import cards_of
from brewhygiene.trends.overview.queries import overview_of
from brewhygiene.trends.overview.rows import WHATS
from brewhygiene.trends.turns.periods import period_asked
from tests import clock
from tests.evidence import unguarded
from tests.factories import Cellar, make_meter, make_vessel
from tests.histories import Swab, make_history
from tests.trends.overview.test_overview import DIRTY, client_of

pytestmark = [pytest.mark.django_db, pytest.mark.hourly]


def busy(vessels: int = 1) -> Cellar:
    """A cellar in which every figure counts something."""
    cellar = Cellar(water_price_hl=0.5, minute_price=0.6)
    unlimited = make_meter()

    def rlu(swab: Swab) -> int:
        return DIRTY if swab.turn.number % 3 == 0 and not swab.turn.again else 2

    make_history(
        cellar=cellar,
        vessels=[cellar.vessel, *(make_vessel() for _ in range(vessels - 1))],
        cleans=20,
        every=timedelta(days=4),
        until=clock.now(),
        rlu=rlu,
        again=lambda turn: turn.number % 6 == 0,
        meter=lambda turn: unlimited if turn.number % 5 == 4 else cellar.meter,
        released_by=lambda turn: cellar.hand if turn.number == 7 else cellar.brewer,
    )
    Plate.objects.create(
        vessel=cellar.vessel,
        turnaround=cellar.vessel.turnarounds.latest("opened_at"),
        point=cellar.point,
        medium="Invented agar",
        taken_at=clock.now() - timedelta(days=9),
        due_on=clock.today() - timedelta(days=2),
        sent_by=cellar.hand,
    )
    return cellar


def counted(client: Client, what: str, period: str = "90") -> int:
    """How many rows the page says there are; and shows, if they fit on one."""
    response = client.get(f"/trends/rows/{what}/?in={period}")
    assert response.status_code == 200
    page = response.content.decode()
    found = re.search(r'<p class="page-about">(\d+) ', page)
    assert found is not None
    assert page.count("<tr>") - 1 == min(int(found[1]), 50) or found[1] == "0"
    return int(found[1])


@pytest.mark.instants
@pytest.mark.parametrize("period", ["30", "90", "365"])
def test_every_figure_has_as_many_rows_as_it_says(period: str) -> None:
    cellar = busy()
    now = clock.now()
    shown = overview_of(period_asked(period, now=now), brewery=cellar.brewery, now=now)
    client = client_of(cellar.owner)
    cards = [card for card in cards_of(shown, priced=True) if card.rows]
    assert len(cards) == 7
    assert {card.rows: counted(client, card.rows, period) for card in cards} == {
        card.rows: card.count for card in cards
    }


def test_rows_of_every_kind_are_found() -> None:
    cellar = busy()
    client = client_of(cellar.hand)
    found = {what: counted(client, what) for what in WHATS}
    # Numbers 0, 3 ... 18 failed, but those read on the meter without limits cannot fail.
    assert found["all"] == 20
    assert found["judged"] + found["not-judged"] == found["all"]
    assert found["clean"] + found["not-clean"] == found["judged"]
    assert found["re-cleaned"] == 4
    assert found["released"] == 20
    assert found["plates-overdue"] == 1
    assert found["cleans"] == 24
    assert found["readings"] == 24
    assert found["unjudged"] == 4


def test_slowest_release_leads() -> None:
    cellar = busy()
    slow = cellar.vessel.turnarounds.latest("opened_at")
    decision = slow.decisions.get()
    with unguarded(type(decision)):
        type(decision).objects.filter(pk=decision.pk).update(
            decided_at=slow.opened_at + timedelta(hours=50)
        )
    page = client_of(cellar.owner).get("/trends/rows/released/").content.decode()
    first = re.search(r'href="/turnarounds/(\d+)/"', page)
    assert first is not None
    assert int(first[1]) == slow.pk
    assert "50 h" in page


def test_rows_are_shown_in_pages() -> None:
    cellar = busy(vessels=3)
    client = client_of(cellar.owner)
    first = client.get("/trends/rows/all/?in=90").content.decode()
    assert "Page 1 of 2" in first
    assert 'href="?in=90&amp;page=2"' in first
    second = client.get("/trends/rows/all/?in=90&page=2").content.decode()
    assert second.count("<tr>") - 1 == 10


@pytest.mark.instants
def test_rows_of_a_month_are_those_of_the_trend() -> None:
    cellar = busy()
    now = clock.now()
    client = client_of(cellar.owner)
    shown = overview_of(period_asked("365", now=now), brewery=cellar.brewery, now=now)
    judged = {month.period.code: month.totals.judged for month in shown.months}
    assert sum(judged.values()) > 0
    assert judged == {code: counted(client, "judged", code) for code in judged}


def test_what_no_figure_counts_is_not_found() -> None:
    client = client_of(Cellar().owner)
    assert client.get("/trends/rows/nothing/").status_code == 404
    assert client.get("/trends/rows/all/?in=yesterday").status_code == 404
    assert Client().get("/trends/rows/all/").status_code == 302


@pytest.mark.parametrize("vessels", [1, 3])
@pytest.mark.parametrize(
    ("what", "queries"), [("all", 14), ("readings", 6), ("cleans", 6), ("plates-overdue", 8)]
)
def test_rows_take_the_same_queries_whatever_the_number(
    what: str, queries: int, vessels: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    client = client_of(busy(vessels).owner)
    with django_assert_num_queries(queries):
        client.get(f"/trends/rows/{what}/")
