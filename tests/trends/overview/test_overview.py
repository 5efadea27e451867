"""The overview of trends: its figures, its comparisons, who sees it, and what it costs to make."""

import html
import re
from datetime import timedelta

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from brewhygiene.plates.models import Plate
from brewhygiene.trends.overview.cards import cards_of
from brewhygiene.trends.overview.queries import overview_of, trend_figure
from brewhygiene.trends.turns.periods import period_asked
from tests import clock
from tests.factories import Cellar, make_cellar_hand, make_user, make_vessel
from tests.histories import Swab, make_history

pytestmark = [pytest.mark.django_db, pytest.mark.hourly]

DIRTY = 60  # over the factories' action limit of 30


def client_of(user: object) -> Client:
    client = Client()
    client.force_login(user)  # type: ignore[arg-type]
    return client


def history(cellar: Cellar, *, vessels: int = 1, cleans: int = 26) -> None:
    """A year of turnarounds up to now, every second week; each tenth fails its first reading."""

    def rlu(swab: Swab) -> int:
        return DIRTY if swab.turn.number % 10 == 9 and not swab.turn.again else 2

    make_history(
        cellar=cellar,
        vessels=[cellar.vessel, *(make_vessel() for _ in range(vessels - 1))],
        cleans=cleans,
        every=timedelta(days=14),
        until=clock.now(),
        rlu=rlu,
        again=lambda turn: turn.number % 10 == 9,
    )


def text_of(client: Client, path: str = "/trends/") -> str:
    response = client.get(path)
    assert response.status_code == 200
    return re.sub(r"\s+", " ", response.content.decode())


@pytest.mark.instants
def test_figures_are_those_of_the_records() -> None:
    cellar = Cellar()
    history(cellar)
    now = clock.now()
    shown = overview_of(period_asked("365", now=now), brewery=cellar.brewery, now=now)
    # 26 turnarounds: numbers 9 and 19 failed and were cleaned again.
    assert shown.totals.clean is not None
    assert (shown.totals.clean.count, shown.totals.judged) == (24, 26)
    assert (shown.totals.recleaned, shown.totals.recleans) == (2, 2)
    assert shown.totals.median_h == 4
    assert (shown.readings, shown.unjudged) == (28, 0)
    assert sum(month.totals.judged for month in shown.months) in (25, 26)


def test_cards_say_what_the_figures_are() -> None:
    cellar = Cellar()
    history(cellar)
    page = text_of(client_of(cellar.owner), "/trends/?in=365")
    assert '<p class="figure-value">92 %</p>' in page
    assert "24 of 26. 95 % interval 76 to 98 %." in page
    assert "2 cleans more than planned" in page
    assert "Each of 28 readings has a verdict." in page
    assert "No price is set." in page
    assert "No point is getting worse, no plate is overdue and no reading is unjudged." in page


@pytest.mark.instants
def test_period_is_compared_with_the_one_before() -> None:
    cellar = Cellar()
    history(cellar)
    now = clock.now()
    ninety = overview_of(period_asked("90", now=now), brewery=cellar.brewery, now=now)
    assert ninety.before is not None
    assert ninety.totals.turnarounds == 6
    assert ninety.before.turnarounds == 6
    year = overview_of(period_asked("365", now=now), brewery=cellar.brewery, now=now)
    assert year.before is None


def test_answer_comes_first_then_figures_with_change_and_line_then_the_ways_on() -> None:
    cellar = Cellar()
    history(cellar)
    page = text_of(client_of(cellar.owner))
    heads = re.findall(r'<h2 id="([a-z-]+)"', page)
    assert heads == ["attention", "change", "figures", "details", "monthly-reports"]
    cards = page[page.index('id="figures"') : page.index('id="details"')]
    assert cards.count("sparkline") == 4  # the figures that each month has
    assert "in the 90 days before" in cards


def test_cost_says_of_how_many_cleans_it_is() -> None:
    cellar = Cellar(water_price_hl=0.5, effluent_price_hl=0.4, minute_price=0.6)
    history(cellar)
    now = clock.now()
    shown = overview_of(period_asked("90", now=now), brewery=cellar.brewery, now=now)
    assert shown.cost is not None
    assert (shown.cost.ended, shown.cost.costed) == (6, 6)
    (card,) = [c for c in cards_of(shown, priced=True) if c.title == "Cost of cleaning"]
    assert card.value == f"EUR {shown.cost.money / (6 * 30):.2f}"
    assert card.unit == "per hL"
    assert card.says.startswith("Per volume of the vessel, over 6 cleans")


@pytest.mark.instants
def test_plates_overdue_are_counted_now() -> None:
    cellar = Cellar()
    history(cellar, cleans=2)
    today = clock.today()
    turnaround = cellar.vessel.turnarounds.latest("opened_at")
    for days in (-1, 0, 3):
        Plate.objects.create(
            vessel=cellar.vessel,
            turnaround=turnaround,
            point=cellar.point,
            medium="Invented agar",
            taken_at=clock.now() - timedelta(days=7),
            due_on=today + timedelta(days=days),
            sent_by=cellar.hand,
        )
    page = text_of(client_of(cellar.owner))
    assert "They are past their due date and not read." in page
    attention = page[page.index("Needs attention") : page.index("Figures")]
    assert "1 past their due date" in attention
    shown = overview_of(period_asked("", now=clock.now()), brewery=cellar.brewery, now=clock.now())
    assert shown.overdue == 1


def test_empty_brewery_shows_no_rate_and_says_why() -> None:
    cellar = Cellar()
    page = text_of(client_of(cellar.owner))
    assert "not judged" in page
    assert "No vessel was emptied." in page
    assert "Shown once turnarounds of two months were read" in page
    assert "plotly" not in page
    assert "nan" not in page.lower().replace("nanm", "")


@pytest.mark.instants
def test_trend_needs_two_months() -> None:
    cellar = Cellar()
    history(cellar, cleans=1)
    now = clock.now()
    shown = overview_of(period_asked("365", now=now), brewery=cellar.brewery, now=now)
    assert trend_figure(shown.months) is None
    history(cellar, cleans=10, vessels=2)
    shown = overview_of(period_asked("365", now=now), brewery=cellar.brewery, now=now)
    figure = trend_figure(shown.months)
    assert figure is not None
    assert len(figure.table.rows) == 12


@pytest.mark.parametrize("period", ["week", "2026-13", "31"])
def test_period_that_is_none_is_not_found(period: str) -> None:
    assert client_of(Cellar().owner).get(f"/trends/?in={period}").status_code == 404


def test_everybody_signed_in_sees_it_and_reports_only_those_who_see_everything() -> None:
    cellar = Cellar()
    assert "Monthly reports" in text_of(client_of(cellar.owner))
    assert "Monthly reports" in text_of(client_of(cellar.brewer))
    assert "Monthly reports" not in text_of(client_of(make_cellar_hand()))
    assert "Monthly reports" not in text_of(client_of(make_user()))
    assert Client().get("/trends/").status_code == 302


@pytest.mark.parametrize("role", ["hand", "brewer", "owner"])
def test_every_link_may_be_followed_by_who_sees_it(role: str) -> None:
    cellar = Cellar()
    history(cellar)
    client = client_of(getattr(cellar, role))
    page = text_of(client)
    links = {html.unescape(link) for link in re.findall(r'href="(/[^"#]+)"', page)}
    links = {link for link in links if not link.startswith(("/static/", "/months/"))}
    refused = {link: client.get(link).status_code for link in links}
    assert set(refused.values()) == {200}, refused
    assert ("/trends/compare/" in links) == (role != "hand")


def test_nav_leads_to_it_from_the_board() -> None:
    page = text_of(client_of(Cellar().hand), "/")
    assert '<a href="/trends/">Trends</a>' in page


@pytest.mark.parametrize("vessels", [1, 3])
def test_page_takes_the_same_queries_whatever_the_number(
    vessels: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    cellar = Cellar(water_price_hl=0.5, effluent_price_hl=0.4, minute_price=0.6)
    history(cellar, vessels=vessels)
    client = client_of(cellar.owner)
    client.get("/trends/")  # works out how the points stand, once
    with django_assert_num_queries(30):
        client.get("/trends/")
