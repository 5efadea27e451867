"""Take README's pictures again: the invented brewery on a server of its own, in Chromium.

``python -m tests.browser.pictures`` (``make pictures``) writes them to ``fixtures/pictures``.
"""

import os
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, FloatRect, Page, sync_playwright

from tests.browser import chromium

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "fixtures" / "pictures"
PATIENCE_S = 600
COLOURS = 96
MOST_BYTES = 150 * 1024
DESK, TABLET, PAPER = (1280, 800), (820, 1180), (820, 1100)
# The sheet without the grey that the browser lays around it.
SHEET = FloatRect(x=7, y=5, width=806, height=1090)


@dataclass(frozen=True)
class Picture:
    """One page, as one person sees it."""

    name: str
    who: str
    size: tuple[int, int]
    address: str
    clip: FloatRect | None = None


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


@contextmanager
def server(data_dir: str) -> Iterator[str]:
    """The application's own server in an empty folder, which it fills with the demonstration."""
    port = free_port()
    environment = {**os.environ, "DATA_DIR": data_dir, "PORT": str(port)}
    for name in ("DATABASE_URL", "NO_DEMO", "DEBUG", "HTTPS", "ALLOWED_HOSTS"):
        environment.pop(name, None)
    process = subprocess.Popen([sys.executable, ROOT / "manage.py", "serve"], env=environment)
    try:
        wait_for(f"http://127.0.0.1:{port}/sign-in/", process)
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait(timeout=PATIENCE_S)


def wait_for(address: str, process: "subprocess.Popen[bytes]") -> None:
    begun = time.monotonic()
    while time.monotonic() - begun < PATIENCE_S:
        if process.poll() is not None:
            sys.exit("The server ended before it answered; its own words are above.")
        try:
            with urllib.request.urlopen(address, timeout=5):  # noqa: S310 - our own server
                return
        except (urllib.error.URLError, TimeoutError):
            time.sleep(0.5)
    sys.exit(f"The server did not answer within {PATIENCE_S} s.")


def pictures_of(data_dir: str) -> list[Picture]:
    """What to take, by the addresses that things have in this brewery."""
    os.environ["DATA_DIR"] = data_dir
    os.environ["DATABASE_URL"] = ""
    os.environ["DJANGO_SETTINGS_MODULE"] = "brewhygiene.settings"
    import django

    django.setup()
    from django.urls import reverse

    from brewhygiene.atp.models.baselines import Baseline
    from brewhygiene.atp.models.readings import Result
    from brewhygiene.cellar.models import PartWork
    from brewhygiene.turnarounds.models import StepRecord, Turnaround

    def latest(vessel: str) -> Turnaround:
        return Turnaround.objects.filter(vessel__name=vessel).latest("pk")

    running = StepRecord.objects.get(ended_at__isnull=True)
    to_sample = latest("YV 1")
    point = to_sample.vessel.points.order_by("order").first()
    assert point is not None
    over = Result.objects.filter(verdict="action").latest("pk")
    held_once = Turnaround.objects.filter(
        closed_at__isnull=False, decisions__outcome="hold"
    ).latest("pk")
    mended = PartWork.objects.filter(point__isnull=False).latest("done_at")
    baseline = Baseline.objects.latest("pk")
    return [
        Picture("board", "priya", DESK, reverse("board:board")),
        Picture(
            "step",
            "priya",
            TABLET,
            reverse("turnarounds:step", args=[running.clean_id, running.step_id]),
        ),
        Picture("sample", "jonas", TABLET, reverse("atp:sample", args=[to_sample.pk, point.pk])),
        Picture("verdict", "jonas", TABLET, reverse("atp:reading", args=[over.pk])),
        Picture("decide", "mara", DESK, reverse("release:decide", args=[latest("FV 5").pk])),
        Picture(
            "record",
            "tomas",
            PAPER,
            reverse("reports:record", args=[held_once.pk]) + "#toolbar=0&navpanes=0&view=FitH",
            clip=SHEET,
        ),
        Picture("trends", "tomas", DESK, reverse("trends:overview")),
        Picture("chart", "mara", TABLET, reverse("trends:point", args=[mended.point_id])),
        Picture("baseline", "mara", TABLET, reverse("atp:baseline", args=[baseline.pk])),
    ]


def signed_in(browser: Browser, picture: Picture, *, home: str) -> Page:
    from brewhygiene.demo.people import DEMO_PASSWORDS

    width, height = picture.size
    context = browser.new_context(
        base_url=home,
        viewport={"width": width, "height": height},
        color_scheme="light",
        reduced_motion="reduce",
    )
    page = context.new_page()
    page.goto("/sign-in/")
    page.fill("[name=username]", picture.who)
    page.fill("[name=password]", DEMO_PASSWORDS[picture.who])
    page.press("[name=password]", "Enter")
    page.wait_for_url(f"{home}/")
    return page


def take(browser: Browser, picture: Picture, *, home: str) -> Path:
    page = signed_in(browser, picture, home=home)
    page.goto(picture.address)
    if picture.size == PAPER:
        page.wait_for_timeout(4000)  # the browser's own viewer says nothing when it has drawn
    path = FOLDER / f"{picture.name}.png"
    page.screenshot(path=path, clip=picture.clip)
    page.context.close()
    shrink(path)
    return path


def shrink(path: Path) -> None:
    """Fewer colours, as few as the size asks for: flat pages lose nothing that one sees."""
    with Image.open(path) as opened:
        full = opened.convert("RGB")
    colours = COLOURS
    while True:
        full.quantize(colors=colours, dither=Image.Dither.NONE).save(path, optimize=True)
        if path.stat().st_size <= MOST_BYTES or colours <= 16:
            return
        colours //= 2


def main() -> None:
    FOLDER.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory(prefix="brewhygiene-pictures-") as data_dir,
        server(data_dir) as home,
    ):
        # Asked before Playwright starts: Django keeps out of threads that run an event loop.
        wanted = pictures_of(data_dir)
        take_all(wanted, home=home)


def take_all(wanted: list[Picture], *, home: str) -> None:
    with sync_playwright() as playwright:
        browser = chromium.start(playwright, shows_pdf=True)
        for picture in wanted:
            path = take(browser, picture, home=home)
            print(f"{path.relative_to(ROOT)}  {path.stat().st_size // 1024} KB")
        browser.close()


if __name__ == "__main__":
    try:
        main()
    except chromium.NoChromium as trouble:
        sys.exit(str(trouble))
