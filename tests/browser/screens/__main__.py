"""Take pictures of every kind of screen, into ``var/screens``, to look at them one by one.

``python -m tests.browser.screens`` (``make screens``) takes all of them; ``... decide sample*
--size phone --theme dark`` a few. The invented brewery is kept between runs in
``var/screens/data``; ``--fresh`` makes a new one. ``--server URL`` looks at a server that runs.
"""

import argparse
import fnmatch
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from playwright.sync_api import Error as PlaywrightError

from tests.browser import chromium
from tests.browser.pictures import free_port, wait_for
from tests.browser.screens.catalogue import Screen, screens
from tests.browser.screens.contact_sheet import contact_sheet

ROOT = Path(__file__).parents[3]
FOLDER = ROOT / "var" / "screens"
SIZES = {"desk": (1280, 800), "tablet": (820, 1180), "phone": (390, 844)}
THEMES = ("light", "dark")
DRAWN_MS = 10_000


def asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.browser.screens", description=__doc__)
    parser.add_argument("names", nargs="*", default=["*"], help="e.g. decide, 'sample*', 'setup-*'")
    parser.add_argument("--size", default="desk,tablet,phone", help="of desk, tablet, phone")
    parser.add_argument("--theme", default="light,dark", help="of light, dark")
    parser.add_argument("--out", type=Path, default=FOLDER / "shots", help="the folder to fill")
    parser.add_argument("--address", help="one page by its address instead of by name")
    parser.add_argument("--who", default="mara", help="who opens --address: mara, jonas, tomas")
    parser.add_argument("--fold", action="store_true", help="only what is in sight unscrolled")
    parser.add_argument("--text", type=int, default=100, help="size of text in %%, e.g. 200")
    parser.add_argument("--print", action="store_true", dest="paper", help="as it would be printed")
    parser.add_argument("--sheet", action="store_true", help="a contact sheet of each size as well")
    parser.add_argument("--fresh", action="store_true", help="begin with a new invented brewery")
    parser.add_argument("--data", type=Path, default=FOLDER / "data", help="where its data is kept")
    parser.add_argument("--server", help="the address of a server that runs on --data")
    parser.add_argument("--list", action="store_true", help="only name the screens")
    given = parser.parse_args()
    for choice, known in ((given.size, SIZES), (given.theme, THEMES)):
        if unknown := set(choice.split(",")) - set(known):
            parser.error(f"unknown: {', '.join(sorted(unknown))}; choose of {', '.join(known)}")
    return given


def environment(data: Path) -> dict[str, str]:
    """As a contributor's own server: static files as they are, Django's pages for errors."""
    kept = {k: v for k, v in os.environ.items() if k not in ("DATABASE_URL", "HTTPS", "NO_DEMO")}
    return {**kept, "DATA_DIR": str(data), "DEBUG": "1"}


def make_ready(data: Path, *, fresh: bool) -> None:
    """The invented brewery in ``data``, made if it is not there and brought up to date."""
    if fresh:
        shutil.rmtree(data, ignore_errors=True)
    made = (data / "seeded").exists()
    manage = [sys.executable, str(ROOT / "manage.py")]
    settings = environment(data)
    subprocess.run([*manage, "migrate", "-v0"], env=settings, check=True)
    if not made:
        subprocess.run([*manage, "seed_demo"], env=settings, check=True)
        (data / "seeded").touch()


@contextmanager
def server(given: argparse.Namespace) -> Iterator[str]:
    if given.server:
        yield given.server.rstrip("/")
        return
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, ROOT / "manage.py", "runserver", "--noreload", f"127.0.0.1:{port}"],
        env=environment(given.data),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        wait_for(f"http://127.0.0.1:{port}/sign-in/", process)
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait(timeout=20)


def sessions(people: set[str]) -> dict[str, str]:
    """A signed-in session's key for each person."""
    from django.contrib.auth import get_user_model
    from django.test import Client

    found = {}
    for who in people - {""}:
        client = Client()
        client.force_login(
            get_user_model().objects.get(username=who),
            backend="django.contrib.auth.backends.ModelBackend",
        )
        found[who] = client.cookies["sessionid"].value
    return found


def settle(page: Page) -> None:
    """Wait until counts and a logger file's chart have come; figures stand as the server drew."""
    charts = page.locator("[data-chart]").count()
    with suppress(PlaywrightError):
        page.wait_for_load_state("networkidle", timeout=DRAWN_MS)
        if charts:
            page.locator("[data-drawn]").nth(charts - 1).wait_for(timeout=DRAWN_MS)


def take(context: BrowserContext, screen: Screen, path: Path, given: argparse.Namespace) -> str:
    """Take one picture; what was wrong with it, or ''."""
    page = context.new_page()
    troubles: list[str] = []
    page.on("pageerror", lambda error: troubles.append(str(error)))
    response = page.goto(screen.address)
    if response is not None and response.status >= 400 and screen.name != "not-found":
        troubles.append(f"answered {response.status}")
    for pressed in screen.opens:
        # The server's own errors are wanted, not the browser's.
        page.evaluate("for (const form of document.forms) form.noValidate = true")
        page.locator(pressed).first.click()
        page.locator(".errors, .error").first.wait_for()
    if given.text != 100:
        page.evaluate(f"document.documentElement.style.fontSize = '{given.text}%'")
    settle(page)
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    if wide > 0:
        troubles.append(f"{wide} px wider than the screen")
    if given.paper:
        page.emulate_media(media="print")
    if not given.fold:
        # As tall as the page is, so that what sticks to an edge of the screen is at the page's.
        width, height = SIZES[path.stem.split("-")[-2]]
        tall = page.evaluate("document.documentElement.scrollHeight")
        page.set_viewport_size({"width": width, "height": max(height, min(tall, 12_000))})
    page.screenshot(path=path, full_page=not given.fold)
    page.close()
    return "; ".join(troubles)


def take_all(browser: Browser, wanted: list[Screen], given: argparse.Namespace, home: str) -> int:
    keys, wrong = given.keys, 0
    given.out.mkdir(parents=True, exist_ok=True)
    for size in given.size.split(","):
        for theme in given.theme.split(","):
            contexts: dict[str, BrowserContext] = {}
            taken = []
            for screen in wanted:
                if screen.who not in contexts:
                    width, height = SIZES[size]
                    contexts[screen.who] = browser.new_context(
                        base_url=home,
                        viewport={"width": width, "height": height},
                        color_scheme=theme,
                        reduced_motion="reduce",
                        locale="en-GB",
                        has_touch=size != "desk",
                    )
                    if screen.who:
                        contexts[screen.who].add_cookies(
                            [{"name": "sessionid", "value": keys[screen.who], "url": home}]
                        )
                path = given.out / f"{screen.name}-{size}-{theme}.png"
                trouble = take(contexts[screen.who], screen, path, given)
                wrong += bool(trouble)
                taken.append(path)
                print(f"{path}{'  !! ' + trouble if trouble else ''}", flush=True)
            for context in contexts.values():
                context.close()
            if given.sheet:
                print(contact_sheet(taken, given.out / f"sheet-{size}-{theme}.png"))
    return wrong


def main() -> None:
    given = asked()
    if not given.server:
        make_ready(given.data, fresh=given.fresh)
    os.environ.update(environment(given.data))
    os.environ["DATABASE_URL"] = ""
    os.environ["DJANGO_SETTINGS_MODULE"] = "brewhygiene.settings"
    import django

    django.setup()
    if given.address:
        wanted = [Screen(given.names[0].strip("*") or "page", given.who, given.address)]
    else:
        wanted = list(screens(lambda name: any(fnmatch.fnmatch(name, n) for n in given.names)))
    if given.list or not wanted:
        for screen in wanted:
            print(f"{screen.name:24} {screen.who:8} {screen.address}")
        sys.exit(None if wanted else "No screen has such a name; --list names them.")
    # Asked before Playwright starts: Django keeps out of threads that run an event loop.
    given.keys = sessions({screen.who for screen in wanted})
    with server(given) as home, sync_playwright() as playwright:
        browser = chromium.start(playwright)
        wrong = take_all(browser, wanted, given, home)
        browser.close()
    if wrong:
        sys.exit(f"{wrong} of the screens had something wrong, marked !! above.")


if __name__ == "__main__":
    try:
        main()
    except chromium.NoChromium as trouble:
        sys.exit(str(trouble))
