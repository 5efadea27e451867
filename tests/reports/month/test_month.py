"""The monthly report: what it says equals the figures; who gets it; months that have none."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from brewhygiene.plates.models import Plate
from brewhygiene.reports.month.build import month_report
from brewhygiene.reports.month.figures import vessel_figure
from brewhygiene.reports.month.pdf import month_html, month_pdf
from brewhygiene.trends.turns.periods import month_of
from tests.factories import Cellar, make_meter, make_point, make_user, make_vessel
from tests.histories import History, Swab, Turn, make_history
from tests.reports.pdf.text import page_texts, text_of, words_of

pytestmark = pytest.mark.django_db

UNTIL = datetime(2026, 3, 1, 8, tzinfo=UTC)
NOW = datetime(2026, 3, 10, 9, tzinfo=UTC)
FEBRUARY = month_of(2026, 2, UTC)


def history(cellar: Cellar, *, vessels: int = 1, **values: object) -> History:
    """A turnaround every four days until the end of February: seven in it a vessel."""

    def rlu(swab: Swab) -> int:
        if swab.turn.again:
            return 2
        return {0: 60, 1: 20}.get(swab.turn.number % 10, 2)

    usual: dict[str, object] = {
        "cleans": 20,
        "every": timedelta(days=4),
        "until": UNTIL,
        "rlu": rlu,
        "again": lambda turn: turn.number % 10 == 0,
        "plate": lambda swab: "positive" if swab.turn.number == 15 else None,
    }
    return make_history(
        cellar=cellar,
        vessels=[cellar.vessel, *(make_vessel() for _ in range(vessels - 1))],
        **{**usual, **values},  # type: ignore[arg-type]
    )


def html_of(cellar: Cellar, *, now: datetime = NOW) -> str:
    return words_of(month_html(FEBRUARY, brewery=cellar.brewery, now=now))


def test_pdf_says_what_the_figures_are() -> None:
    cellar = Cellar(water_price_hl=0.5, effluent_price_hl=0.4, minute_price=0.6)
    history(cellar)
    report = month_report(FEBRUARY, brewery=cellar.brewery, now=NOW)
    totals = report.totals
    # Of 20, numbers 13 to 19 are emptied in February; none of those fails.
    assert totals.turnarounds == 7
    assert totals.clean is not None
    assert (totals.clean.count, totals.judged) == (7, 7)
    text = text_of(month_pdf(FEBRUARY, brewery=cellar.brewery, now=NOW))
    assert "Hygiene report February 2026" in text
    for sentence in report.sentences:
        assert sentence in text
    assert "7 of 7 clean the first time" in text
    assert report.cost is not None
    assert f"{report.cost.words} cost of cleaning" in text
    (line,) = report.vessels
    assert (line.readings, line.alert, line.action, line.unjudged) == (7, 0, 0, 0)
    assert f"{line.vessel.name} 7 7 of 7 0 4 7 0 0 0 0" in text


def test_january_has_its_failures_and_recleans() -> None:
    cellar = Cellar()
    history(cellar)
    january = month_of(2026, 1, UTC)
    report = month_report(january, brewery=cellar.brewery, now=NOW)
    (line,) = report.vessels
    assert (line.action, line.alert) == (1, 1)
    assert (line.totals.recleaned, line.totals.not_clean) == (1, 1)
    assert "1 turnaround was re-cleaned." in report.sentences


def test_charts_are_drawn_as_lines_and_key_says_what_they_are() -> None:
    cellar = Cellar()
    history(cellar, plate=lambda swab: None)
    html = month_html(FEBRUARY, brewery=cellar.brewery, now=NOW)
    assert html.count("<svg") == 1 + 1 + 4 + 1  # the trend, one vessel, the key, the head's code
    assert "var(" not in html
    assert "Readings of each vessel" in html
    assert page_texts(month_pdf(FEBRUARY, brewery=cellar.brewery, now=NOW))


def test_each_reading_stands_by_its_own_limit_and_unjudged_ones_do_not() -> None:
    cellar = Cellar()
    other = make_meter()
    history(cellar, meter=lambda turn: other if turn.number == 19 else cellar.meter)
    report = month_report(FEBRUARY, brewery=cellar.brewery, now=NOW)
    (line,) = report.vessels
    assert line.unjudged == 1
    # Three months hold all 20 first readings and the two after second cleans, less the unjudged
    # one; 60 RLU are twice the action limit of 30.
    december = [r for r in line.charted if r.taken_at.month == 12]
    assert december[0].share == 2.0
    assert len(line.charted) == 21
    figure = vessel_figure(line, FEBRUARY)
    assert figure is not None
    beyond = [mark for mark in figure.panels[0].marks if getattr(mark, "shape", "") == "up"]
    assert len(beyond) == 1
    assert "1 reading of 7 has no verdict" in html_of(cellar)


def test_deviations_are_counted_by_kind_with_what_was_decided() -> None:
    cellar = Cellar()
    history(
        cellar,
        reading=lambda turn, window: (
            50.0 if window.quantity == "concentration" and turn.number in (17, 18) else None
        ),
    )
    report = month_report(FEBRUARY, brewery=cellar.brewery, now=NOW)
    (line,) = report.deviations
    assert (line.words, line.count) == ("strength below its window", 2)
    assert line.decided == "accept with a reason 2"
    text = html_of(cellar)
    assert "2 deviations in the steps, each time: strength below its window." in text
    assert "Strength below its window 2 accept with a reason 2" in text


def test_plates_read_in_the_month_are_listed() -> None:
    cellar = Cellar()
    made = history(cellar)
    (plate,) = made.plates
    Plate.objects.filter(pk=plate.pk).update(
        read_at=datetime(2026, 2, 20, 9, tzinfo=UTC), organism="wild yeast (invented)"
    )
    text = html_of(cellar)
    assert "Of 1 plate read, 1 was positive." in text
    assert "wild yeast (invented)" in text
    assert "open" in text


def test_decisions_list_holds_and_self_releases() -> None:
    cellar = Cellar()

    def released_by(turn: Turn) -> object:
        return cellar.hand if turn.number == 18 else cellar.brewer

    history(cellar, released_by=released_by)
    report = month_report(FEBRUARY, brewery=cellar.brewery, now=NOW)
    assert report.releases == 7
    assert len(report.self_releases) == 1
    text = html_of(cellar)
    assert "7 releases and 0 holds were signed. 1 of the releases were signed by someone" in text
    assert "1 turnaround was self-released: the person who signed had worked on the clean." in text


def test_hold_is_listed_with_its_reason() -> None:
    cellar = Cellar()
    opened = datetime(2026, 2, 20, 9, tzinfo=UTC)
    turnaround = cellar.cleaned(now=opened)
    cellar.sampled(turnaround, rlu=99, now=opened + timedelta(minutes=30))
    cellar.decided(turnaround, "hold", now=opened + timedelta(minutes=40))
    text = html_of(cellar)
    assert "0 releases and 1 hold were signed" in text
    assert "Not sure of it" in text


def test_month_without_anything_says_so() -> None:
    cellar = Cellar()
    text = text_of(month_pdf(FEBRUARY, brewery=cellar.brewery, now=NOW))
    assert "No vessel was emptied in February 2026, so no rate is shown." in text
    assert "No vessel was emptied, no reading taken and no plate read." in text
    assert f"Not emptied and not read: {cellar.vessel.name}." in text
    assert "%" not in text


def test_present_month_is_printed_so_far() -> None:
    cellar = Cellar()
    history(cellar, until=NOW)
    march = month_of(2026, 3, UTC)
    html = words_of(month_html(march, brewery=cellar.brewery, now=NOW))
    assert "March 2026, so far" in html
    assert "so far" not in words_of(month_html(FEBRUARY, brewery=cellar.brewery, now=NOW))


def test_words_are_escaped() -> None:
    cellar = Cellar()
    vessel = make_vessel(name="<b>FV</b>")
    make_point(vessel, name="<i>")
    make_history(cellar=cellar, vessels=[vessel], cleans=9, every=timedelta(days=4), until=UNTIL)
    html = month_html(FEBRUARY, brewery=cellar.brewery, now=NOW)
    assert "<b>FV</b>" not in html
    assert "&lt;b&gt;FV&lt;/b&gt;" in html


def client_of(user: object) -> Client:
    client = Client()
    client.force_login(user)  # type: ignore[arg-type]
    return client


def test_report_is_for_those_who_see_everything() -> None:
    cellar = Cellar()
    address = "/months/2026-02.pdf"
    for user in (cellar.owner, cellar.brewer):
        response = client_of(user).get(address)
        assert (response.status_code, response["Content-Type"]) == (200, "application/pdf")
        assert 'filename="hygiene-report-2026-02.pdf"' in response["Content-Disposition"]
    for user in (cellar.hand, make_user()):
        assert client_of(user).get(address).status_code == 403
    assert Client().get(address).status_code == 302


@pytest.mark.parametrize(
    ("month", "says"),
    [
        ("2099-01", "January 2099 has not started."),
        ("2026-13", "“2026-13” is not a month."),
        ("february", "“february” is not a month."),
    ],
)
def test_month_that_has_no_report_is_explained(month: str, says: str) -> None:
    response = client_of(Cellar().owner).get(f"/months/{month}.pdf")
    assert response.status_code == 404
    page = re.sub(r"\s+", " ", response.content.decode())
    assert says in page
    assert page.count("<h1>") == 1


@pytest.mark.parametrize("vessels", [1, 3])
def test_report_takes_the_same_queries_whatever_the_number(
    vessels: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    cellar = Cellar(water_price_hl=0.5, minute_price=0.6)
    history(cellar, vessels=vessels)
    month_report(FEBRUARY, brewery=cellar.brewery, now=NOW)  # works out how the points stand
    with django_assert_num_queries(41):
        month_report(FEBRUARY, brewery=cellar.brewery, now=NOW)
