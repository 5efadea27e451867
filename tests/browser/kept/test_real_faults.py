"""Tablets beside a real server that is frozen and killed in the middle of what they send.

The server is a process of its own on a folder of its own: frozen by SIGSTOP, killed
by SIGKILL, and started again on what it left.
"""

import json
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests import clock
from tests.browser.conftest import PATIENCE_MS
from tests.browser.kept.test_evening import Tablet
from tests.serving.test_serve import ROOT, SECONDS_TO_START, clean_environment, free_port

# What a head brewer and her people have set up when the evening begins, and who is signed in where.
SCENE = """
import json
from django.test import Client
from tests.factories import make_cellar_hand
from tests.turnarounds.floor import Floor
floor = Floor()
running = floor.running_caustic(minutes_ago=10)
people = [floor.hand, *(make_cellar_hand(full_name=f"Hand {word}") for word in ("two", "three"))]
signed_in = {}
for person in people:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    signed_in[person.username] = client.cookies["sessionid"].value
print("SCENE", json.dumps({
    "step": f"/cleans/{running.clean_id}/steps/{running.step_id}/", "signed_in": signed_in,
}))
"""


class Brewery:
    """A folder with a database, and the server on it."""

    def __init__(self, data_dir: Path) -> None:
        self.data_dir, self.port = data_dir, free_port()
        self.environment = clean_environment(
            data_dir, PORT=str(self.port), NO_DEMO="1", PYTHONPATH=str(ROOT)
        )
        self.output = data_dir.with_suffix(".log")
        self.manage("migrate", "-v0")
        said = self.manage("shell", "-v0", "-c", SCENE)
        line = next(line for line in said.splitlines() if line.startswith("SCENE "))
        self.scene: dict[str, Any] = json.loads(line.removeprefix("SCENE "))
        self.start()

    def manage(self, *command: str) -> str:
        return subprocess.run(
            [sys.executable, ROOT / "manage.py", *command],
            cwd=ROOT, env=self.environment, check=True, capture_output=True, text=True,
        ).stdout  # fmt: skip

    def start(self) -> None:
        with self.output.open("wb") as output:
            self.process = subprocess.Popen(
                [sys.executable, ROOT / "manage.py", "serve", "--clock-is-right"],
                cwd=ROOT, env=self.environment, stdout=output, stderr=subprocess.STDOUT,
            )  # fmt: skip
        deadline = time.monotonic() + SECONDS_TO_START
        while b"Stop with Ctrl+C" not in self.output.read_bytes():
            assert self.process.poll() is None, self.output.read_text()
            assert time.monotonic() < deadline, self.output.read_text()
            time.sleep(0.05)

    def send(self, number: signal.Signals) -> None:
        self.process.send_signal(number)
        if number in (signal.SIGKILL, signal.SIGTERM):
            self.process.wait()

    def readings(self) -> Counter[tuple[str, float]]:
        """Who took which reading, as the database says."""
        with sqlite3.connect(self.data_dir / "brewhygiene.sqlite3") as database:
            rows = database.execute(
                "SELECT person.username, reading.value FROM brewhygiene_stepreading reading"
                " JOIN brewhygiene_user person ON person.id = reading.taken_by_id"
                " WHERE reading.quantity = 'temperature_c'"
            ).fetchall()
        return Counter((str(name), float(value)) for name, value in rows)


@pytest.fixture
def brewery(tmp_path: Path) -> Iterator[Brewery]:
    brewery = Brewery(tmp_path / "data")
    yield brewery
    brewery.send(signal.SIGCONT)
    brewery.process.kill()
    brewery.process.wait()


@pytest.fixture
def tablets(browser: Browser, brewery: Brewery) -> Iterator[list[Tablet]]:
    """Three tablets, each with a person of its own at the running step."""
    home = f"http://localhost:{brewery.port}"
    opened, contexts = [], []
    for place, (name, session) in enumerate(brewery.scene["signed_in"].items()):
        context = browser.new_context(base_url=home, service_workers="block")
        context.set_default_timeout(PATIENCE_MS)
        context.clock.install(time=clock.now())
        context.add_cookies([{"name": "sessionid", "value": session, "url": home}])
        contexts.append(context)
        step = brewery.scene["step"]
        tablet = Tablet(context.new_page(), first=100 * place, step=step)
        tablet.person = name
        tablet.page.goto(f"{step}?read=temperature_c")
        tablet.page.evaluate("void outbox")
        opened.append(tablet)
    yield opened
    for context in contexts:
        context.close()


def type_on_all(tablets: list[Tablet], count: int) -> None:
    for tablet in tablets:
        tablet.type(count)


def deliver_all(tablets: list[Tablet]) -> None:
    for tablet in tablets:
        tablet.deliver()
        assert tablet.waiting() == 0


def posts(page: Page) -> Callable[[], bool]:
    """Whether a reading has left the tablet since."""
    seen: list[str] = []
    page.on("request", lambda asked: seen.append(asked.method))
    return lambda: "POST" in seen


def test_server_that_is_frozen_and_killed_loses_nothing_and_doubles_nothing(
    brewery: Brewery, tablets: list[Tablet]
) -> None:
    type_on_all(tablets, 10)
    deliver_all(tablets)
    for again in range(2):
        # Frozen in the middle of what the first tablet sends: nobody is answered.
        left = posts(tablets[again].page)
        brewery.send(signal.SIGSTOP)
        type_on_all(tablets, 5)
        assert left()
        assert all(tablet.waiting() == 5 for tablet in tablets)
        # It wakes, takes what had reached it, and is killed while all of them deliver.
        brewery.send(signal.SIGCONT)
        tablets[again].page.evaluate("void outbox.again()")
        brewery.send(signal.SIGKILL)
        type_on_all(tablets, 5)
        assert all(tablet.waiting() >= 5 for tablet in tablets)
        brewery.start()
        deliver_all(tablets)
    type_on_all(tablets, 10)
    deliver_all(tablets)
    brewery.send(signal.SIGTERM)
    typed = Counter(one for tablet in tablets for one in tablet.typed)
    assert sum(typed.values()) == 120
    assert brewery.readings() == typed
    assert "whole" in brewery.manage("check_ledger")
