"""One evening: three tablets, 300 readings, a network that comes and goes."""

from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from playwright.sync_api import Page

from brewhygiene.people.models import User
from brewhygiene.turnarounds.models import StepReading, StepRecord
from tests.browser.conftest import Opened
from tests.browser.kept.wire import Wire
from tests.factories import make_cellar_hand
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db(transaction=True)

# A tablet types as fast as its own page lets it: fill in, record, wait until it is free again.
TYPE = """async (values) => {
    const field = () => document.querySelector("form.reading [name=value]");
    for (const value of values) {
        field().value = value;
        const form = field().form;
        const kept = form.querySelector(".kept-words");
        if (kept) kept.remove();
        form.requestSubmit();
        while (form.isConnected && !form.querySelector(".kept-words")) {
            await new Promise((done) => setTimeout(done, 5));
        }
        if (!form.isConnected) {
            await window.htmx.ajax(
                "GET", "?read=temperature_c", { target: "#readings", swap: "outerHTML" },
            );
        }
    }
}"""
WAITING = "outbox.all().then((all) => all.filter((one) => one.person === outbox.person).length)"


@pytest.fixture
def wire(live_server: Any) -> Iterator[Wire]:
    with Wire(live_server.url) as wire:
        yield wire


class Tablet:
    """One tablet: who is at it, and what was typed on it by whom."""

    def __init__(self, page: Page, *, first: int, step: str) -> None:
        self.page, self.step = page, step
        self.next = first
        self.typed: list[tuple[str, float]] = []
        self.person = ""

    def take_over(self, user: User) -> None:
        client = Client()
        client.force_login(user)
        self.page.context.add_cookies(
            [
                {
                    "name": "sessionid",
                    "value": client.cookies["sessionid"].value,
                    "domain": "localhost",
                    "path": "/",
                }
            ]
        )
        self.person = user.username
        self.page.goto(f"{self.step}?read=temperature_c")

    def type(self, count: int) -> None:
        """Each reading is a number of its own, so that one lost or doubled would show."""
        values = [round(60 + (self.next + place) * 0.05, 2) for place in range(count)]
        self.next += count
        self.typed += [(self.person, value) for value in values]
        self.page.evaluate(TYPE, [str(value) for value in values])

    def waiting(self) -> int:
        count: int = self.page.evaluate(WAITING)
        return count

    def deliver(self) -> None:
        self.page.evaluate("outbox.again()")


def test_an_evening_loses_nothing_and_doubles_nothing(
    open_page: Opened, floor: Floor, running: StepRecord, wire: Wire
) -> None:
    people = [
        floor.hand,
        *(make_cellar_hand(full_name=f"Hand {word}") for word in ("two", "three")),
    ]
    step = f"{wire.address}/cleans/{running.clean_id}/steps/{running.step_id}/"
    tablets = []
    for place, user in enumerate(people):
        page = open_page()
        watch = open_page.watch(page)
        for words in ("ERR_", "htmx:", "fetched from outside", "503 for"):
            watch.allow(words)
        tablets.append(Tablet(page, first=100 * place, step=step))
        tablets[-1].take_over(user)
        page.evaluate("void outbox")
    # On line; one tablet's own network gone; the server frozen; killed; and back.
    for tablet in tablets:
        tablet.type(20)
    for tablet in tablets:
        tablet.page.context.set_offline(True)
        tablet.type(30)
        assert tablet.waiting() == 30
        tablet.page.context.set_offline(False)
        tablet.deliver()
        assert tablet.waiting() == 0
    for again in range(2):
        # What was under way when it froze is taken by the server, and no tablet hears of it.
        wire.freeze()
        tablets[again].page.evaluate("outbox.again()")
        tablets[again].type(1)
        assert tablets[again].waiting() == 1
        wire.cut()
        for tablet in tablets:
            tablet.type(10 if tablet is not tablets[again] else 9)
            assert tablet.waiting() == 10
        wire.mend()
        # Hands change: what waits is nobody's but its own person's.
        mine, other = people[again], people[again + 1]
        tablets[again].take_over(other)
        tablets[again].deliver()
        assert (
            StepReading.objects.filter(taken_by=other, value=tablets[again].typed[-1][1]).count()
            == 0
        )
        tablets[again].type(5)
        tablets[again].take_over(mine)
        for tablet in tablets:
            tablet.deliver()
            assert tablet.waiting() == 0
    for tablet in tablets:
        tablet.type(100 - len(tablet.typed))
        tablet.deliver()
        assert tablet.waiting() == 0
    typed = Counter(one for tablet in tablets for one in tablet.typed)
    found = Counter(
        StepReading.objects.filter(quantity="temperature_c").values_list(
            "taken_by__username", "value"
        )
    )
    assert sum(typed.values()) == 300
    assert found == typed
    times = StepReading.objects.filter(quantity="temperature_c").values_list(
        "taken_at", "client_time"
    )
    # In each the tablet's clock stands beside: within the evening, never before the step.
    assert all(taken >= running.started_at and client is not None for taken, client in times)
