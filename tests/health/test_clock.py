"""A clock that has gone back: nothing is recorded by it, and the page keeps what was typed."""

import html
import io
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.test import Client

from brewhygiene.cellar.models import Beer
from brewhygiene.health.clock import TOLERANCE, WHAT_TO_DO, ClockWatch, clock_watch
from brewhygiene.management.commands.serve import Command
from tests.factories import NOW as RECORDED
from tests.factories import PASSWORD, Cellar

SECOND = timedelta(seconds=1)


@pytest.fixture(autouse=True)
def _unarmed() -> Iterator[None]:
    yield
    clock_watch.arm(None)


def at(monkeypatch: pytest.MonkeyPatch, moment: datetime) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: moment)


@pytest.mark.parametrize(
    "now, back",
    [
        (RECORDED, False),
        (RECORDED - TOLERANCE, False),
        (RECORDED - TOLERANCE - SECOND, True),
        (RECORDED + timedelta(days=900), False),
    ],
)
def test_clock_may_differ_by_two_minutes(now: datetime, back: bool) -> None:
    watch = ClockWatch()
    watch.arm(RECORDED)
    assert timedelta(minutes=2) == TOLERANCE
    assert (watch.gone_back(now) is not None) is back


def test_watch_goes_on_with_what_is_recorded() -> None:
    watch = ClockWatch()
    watch.passed(RECORDED)
    assert watch.gone_back(RECORDED - timedelta(days=1)) is None
    watch.arm(RECORDED)
    watch.passed(RECORDED + timedelta(hours=1))
    watch.passed(RECORDED)
    assert watch.gone_back(RECORDED + timedelta(minutes=57)) is not None
    assert watch.gone_back(RECORDED + timedelta(minutes=58)) is None


def test_words_name_both_moments() -> None:
    watch = ClockWatch()
    watch.arm(RECORDED)
    assert str(watch.gone_back(datetime(2019, 1, 1, tzinfo=UTC))) == (
        "This server's clock has gone back: it says 2019-01-01 00:00, and the last entry was "
        "recorded at 2026-03-10 09:00 UTC."
    )


@pytest.fixture
def desk(db: None, monkeypatch: pytest.MonkeyPatch) -> Client:
    """The head brewer, at a server whose clock has gone back a day since it was started."""
    cellar = Cellar()
    at(monkeypatch, RECORDED)
    client = Client()
    client.force_login(cellar.brewer)
    clock_watch.arm(RECORDED)
    at(monkeypatch, RECORDED - timedelta(days=1))
    return client


BEER = {"name": "Night ale", "key": "beer-1"}


def test_nothing_is_recorded_and_everything_typed_is_kept(
    desk: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = desk.post("/set-up/beers/add/", BEER)
    page = html.unescape(answer.content.decode())
    assert answer.status_code == 503
    assert "<h1>This server's clock has gone back: it says 2026-03-09 09:00" in page
    assert WHAT_TO_DO in page
    assert '<input type="hidden" name="name" value="Night ale">' in page
    assert not Beer.objects.filter(name="Night ale").exists()
    at(monkeypatch, RECORDED + timedelta(minutes=3))
    assert desk.post("/set-up/beers/add/", BEER).status_code == 302
    assert Beer.objects.filter(name="Night ale").exists()


def test_pages_are_still_shown_and_people_still_sign_in_and_out(desk: Client) -> None:
    assert desk.get("/").status_code == 200
    assert desk.post("/sign-out/").status_code == 302
    brewer = {"username": "nobody", "password": PASSWORD}
    assert desk.post("/sign-in/", brewer).status_code == 422


def said_at_start(cellar: Cellar, **options: Any) -> str:
    command = Command(stderr=io.StringIO(), no_color=True)
    command.watch_clock(**options)
    return command.stderr.getvalue()  # type: ignore[attr-defined, no-any-return]


@pytest.mark.django_db
def test_start_names_a_clock_behind_the_ledger(monkeypatch: pytest.MonkeyPatch) -> None:
    cellar = Cellar()
    cellar.emptied(now=RECORDED)
    at(monkeypatch, RECORDED - timedelta(hours=1))
    assert said_at_start(cellar, clock_is_right=False) == (
        "This server's clock has gone back: it says 2026-03-10 08:00, and the last entry was "
        f"recorded at 2026-03-10 09:00 UTC. {WHAT_TO_DO} Until then nothing can be recorded.\n"
    )
    assert clock_watch.gone_back(RECORDED - timedelta(hours=1)) is not None
    assert said_at_start(cellar, clock_is_right=True) == ""
    assert clock_watch.gone_back(RECORDED - timedelta(hours=1)) is None


@pytest.mark.django_db
def test_start_says_nothing_by_a_good_clock_or_without_entries(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    at(monkeypatch, RECORDED)
    command = Command(stderr=io.StringIO(), no_color=True)
    command.watch_clock(clock_is_right=False)
    cellar = Cellar()
    cellar.emptied(now=RECORDED)
    assert said_at_start(cellar, clock_is_right=False) == ""
