"""The system's own Chromium: where it is, and how the tests start it.

``python -m tests.browser.chromium`` tries to start it, and says what is missing if it cannot.
"""

import os
import shutil
import sys
from pathlib import Path

from playwright.sync_api import Browser, Error, Playwright, sync_playwright

# The first draws the same pages without a window's machinery: a fifth less processor time.
NAMES = (
    "chromium-headless-shell",
    "chromium",
    "chromium-browser",
    "google-chrome-stable",
    "google-chrome",
    "microsoft-edge",
)
MACOS_APPLICATIONS = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
)
ARGUMENTS = [
    "--no-sandbox",  # it shows our own pages only, and root (in CI) may not have the sandbox
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


class NoChromium(Exception):
    """No Chromium could be started; the message says what to install."""


def where(playwright: Playwright, *, shows_pdf: bool = False) -> str:
    """The path of a Chromium: the one that CHROMIUM names, or the first that is installed.

    With ``shows_pdf`` one that can show a PDF in a page, which the headless shell cannot.
    Playwright's own comes last, for systems that package none. Raises :class:`NoChromium`.
    """
    if named := os.environ.get("CHROMIUM"):
        if not shutil.which(named):
            raise NoChromium(f"CHROMIUM names {named}, which is not there.")
        return named
    for name in NAMES[1:] if shows_pdf else NAMES:
        if path := shutil.which(name):
            return path
    for application in (*MACOS_APPLICATIONS, playwright.chromium.executable_path):
        if Path(application).exists():
            return application
    raise NoChromium(
        "No Chromium is installed. On Debian: apt-get install chromium. Elsewhere install "
        "Chromium or Chrome, and name it if it has an unusual place: CHROMIUM=/path make test"
    )


def start(playwright: Playwright, *, shows_pdf: bool = False) -> Browser:
    """A headless Chromium; raises :class:`NoChromium` when none starts."""
    path = where(playwright, shows_pdf=shows_pdf)
    try:
        return playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
    except Error as error:
        raise NoChromium(f"{path} did not start: {error.message.strip()}") from error


if __name__ == "__main__":
    try:
        with sync_playwright() as running:
            start(running).close()
    except NoChromium as trouble:
        sys.exit(str(trouble))
