"""Control checks over time, a meter that drifts, and the page that shows it."""

import random
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.atp.meters.drift import check_charts
from brewhygiene.atp.models.meters import ControlCheck, Meter
from brewhygiene.trends.meters.figures import check_figure
from tests import clock
from tests.evidence import unguarded
from tests.factories import Cellar, make_meter

pytestmark = [pytest.mark.django_db, pytest.mark.hourly]


def checked_daily(
    cellar: Cellar, meter: Meter, *, days: int, drift_per_day: float = 0.0, after: int = 30
) -> None:
    """A check a day up to now; after ``after`` days the positive changes by a share each day."""
    chance = random.Random(7)
    now = clock.now()
    ControlCheck.objects.bulk_create(
        ControlCheck(
            meter=meter,
            checked_at=now - timedelta(days=days - day),
            checked_on=(now - timedelta(days=days - day)).date(),
            blank_rlu=chance.choice((0, 1, 1, 2, 3)),
            positive_rlu=round(chance.gauss(220, 15) * (1 + drift_per_day) ** max(0, day - after)),
            passed=True,
            checked_by=cellar.hand,
            note="New control opened" if day == 10 else "",
        )
        for day in range(days)
    )


def drifts(meter: Meter) -> list[tuple[str, str]]:
    charts = check_charts([meter], now=clock.now())[meter.pk]
    return [(drift.side, drift.direction) for drift in charts.drifts]


def test_steady_meter_does_not_drift() -> None:
    cellar = Cellar()
    checked_daily(cellar, cellar.meter, days=90)
    assert drifts(cellar.meter) == []


@pytest.mark.instants
@pytest.mark.parametrize("share, direction", [(-0.01, "down"), (0.01, "up")])
def test_meter_that_changes_a_hundredth_a_day_drifts(share: float, direction: str) -> None:
    cellar = Cellar()
    checked_daily(cellar, cellar.meter, days=60, drift_per_day=share)
    assert drifts(cellar.meter) == [("positive", direction)]
    charts = check_charts([cellar.meter], now=clock.now())[cellar.meter.pk]
    # Every one of these checks passed by the control's range, and the drift is dated to its onset.
    began = clock.now() - timedelta(days=30)
    assert abs(charts.drifts[0].since - began) < timedelta(days=14)
    way = "lower" if direction == "down" else "higher"
    assert charts.drifts[0].words.startswith(f"Positive control reads {way} since ")


def test_blank_that_rises_drifts_and_one_that_falls_does_not() -> None:
    cellar = Cellar()
    checked_daily(cellar, cellar.meter, days=60)
    late = ControlCheck.objects.filter(
        meter=cellar.meter, checked_at__gt=clock.now() - timedelta(days=20)
    )
    with unguarded(ControlCheck):
        late.update(blank_rlu=5)
    assert drifts(cellar.meter) == [("blank", "up")]
    with unguarded(ControlCheck):
        late.update(blank_rlu=0)
    assert drifts(cellar.meter) == []


@pytest.mark.instants
def test_drift_that_is_over_is_told_as_past() -> None:
    cellar = Cellar()
    checked_daily(cellar, cellar.meter, days=90)
    now = clock.now()
    with unguarded(ControlCheck):
        ControlCheck.objects.filter(
            meter=cellar.meter,
            checked_at__range=(now - timedelta(days=60), now - timedelta(days=40)),
        ).update(positive_rlu=150)
    charts = check_charts([cellar.meter], now=now)[cellar.meter.pk]
    assert charts.drifts == []
    (over,) = charts.past
    assert (over.side, over.direction) == ("positive", "down")
    assert abs(over.since - (now - timedelta(days=60))) < timedelta(days=14)
    assert over.until is not None
    assert over.words.startswith("Positive control read lower from ")


def test_one_odd_check_is_no_drift() -> None:
    cellar = Cellar()
    checked_daily(cellar, cellar.meter, days=60)
    with unguarded(ControlCheck):
        ControlCheck.objects.filter(pk=cellar.meter.control_checks.latest("checked_at").pk).update(
            positive_rlu=9_000
        )
    assert drifts(cellar.meter) == []


def test_too_few_checks_are_said_to_be_too_few() -> None:
    cellar = Cellar()
    checked_daily(cellar, cellar.meter, days=5)
    charts = check_charts([cellar.meter], now=clock.now())[cellar.meter.pk]
    assert charts.positive.why_not == "5 readings so far. Limits need 12, 7 more."
    figure = check_figure(cellar.meter, charts)
    assert figure is not None
    assert figure.says == "5 checks are too few to detect a drift."


def test_equal_checks_are_said_to_say_nothing() -> None:
    cellar = Cellar()
    checked_daily(cellar, cellar.meter, days=30)
    with unguarded(ControlCheck):
        ControlCheck.objects.update(blank_rlu=0, positive_rlu=200)
    charts = check_charts([cellar.meter], now=clock.now())[cellar.meter.pk]
    for chart in (charts.positive, charts.blank):
        assert chart.phase is None
        assert chart.why_not.startswith("The first 20 checks all read ")


def test_meter_without_a_check_has_no_picture() -> None:
    meter = make_meter()
    charts = check_charts([meter], now=clock.now())[meter.pk]
    assert check_figure(meter, charts) is None
    assert charts.positive.why_not == "No control check in a year. Limits need 12 checks."


def test_only_the_last_checks_of_a_year_are_charted() -> None:
    cellar = Cellar()
    checked_daily(cellar, cellar.meter, days=150)
    other = make_meter()
    checked_daily(cellar, other, days=20)
    long_ago = clock.now() - timedelta(days=400)
    with unguarded(ControlCheck):
        ControlCheck.objects.filter(meter=other).update(checked_at=long_ago)
    charts = check_charts([cellar.meter, other], now=clock.now())
    assert len(charts[cellar.meter.pk].checks) == 120
    assert charts[other.pk].checks == []


def test_figure_has_a_panel_each_and_a_table_that_leads_to_the_checks() -> None:
    cellar = Cellar()
    checked_daily(cellar, cellar.meter, days=60, drift_per_day=-0.01)
    charts = check_charts([cellar.meter], now=clock.now())[cellar.meter.pk]
    figure = check_figure(cellar.meter, charts)
    assert figure is not None
    assert [panel.title for panel in figure.panels] == ["Positive control", "Blank"]
    assert len(figure.table.rows) == len(figure.table.links) == 60
    assert figure.table.rows[10][3:] == ("passed", "New control opened")
    assert figure.table.links[0] == reverse(
        "atp:checked", args=[cellar.meter.pk, charts.checks[0].pk]
    )


@pytest.mark.parametrize("days", [0, 1, 5, 60])
def test_page_is_shown_to_each_of_three_people(
    client: Client, days: int, django_assert_num_queries: Any
) -> None:
    cellar = Cellar()
    checked_daily(cellar, cellar.meter, days=days, drift_per_day=-0.01)
    address = reverse("trends:meter", args=[cellar.meter.pk])
    for user, may_check in ((cellar.brewer, True), (cellar.hand, True), (cellar.owner, False)):
        client.force_login(user)
        with django_assert_num_queries(6):
            page = client.get(address)
        assert page.status_code == 200
        check = reverse("atp:check", args=[cellar.meter.pk])
        assert (f'href="{check}"' in page.content.decode()) is may_check
    client.logout()
    assert client.get(address).status_code == 302


def test_page_says_what_to_do_about_a_drift(client: Client) -> None:
    cellar = Cellar()
    checked_daily(cellar, cellar.meter, days=60, drift_per_day=-0.01)
    client.force_login(cellar.brewer)
    words = client.get(reverse("trends:meter", args=[cellar.meter.pk])).content.decode()
    assert "Positive control reads lower since" in words
    assert "less light than it did: a dirty vessel may look clean" in words
    assert f"{reverse('atp:open_bridge')}?reference_meter={cellar.meter.pk}" in words


def test_no_such_meter_is_not_found(client: Client) -> None:
    cellar = Cellar()
    client.force_login(cellar.hand)
    assert client.get(reverse("trends:meter", args=[10_000])).status_code == 404
