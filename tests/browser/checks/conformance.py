"""Whether a page is conforming HTML, by the Nu HTML checker run on this machine.

``python -m tests.browser.checks.conformance`` says whether there is a Java to run it.
"""

import json
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from types import TracebackType
from typing import Any, Self

JAR = Path(__file__).parents[1] / "node_modules" / "vnu-jar" / "build" / "dist" / "vnu.jar"
SECONDS_TO_START = 60
# Homebrew leaves its Java outside the path, where macOS has one that only says to get another.
JAVAS = ("java", "/opt/homebrew/opt/openjdk/bin/java", "/usr/local/opt/openjdk/bin/java")


def java() -> str | None:
    """The first Java that starts."""
    for program in JAVAS:
        try:
            subprocess.run([program, "-version"], check=True, capture_output=True)
        except (OSError, subprocess.CalledProcessError):
            continue
        return program
    return None


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


class HtmlChecker:
    """The checker as a service of one test session: a JVM started once answers in milliseconds."""

    def __init__(self) -> None:
        self._address = ""
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        program = java()
        assert program, "Java is missing: make prepare installs it."
        assert JAR.exists(), "The HTML checker is missing: make prepare installs it."
        port = free_port()
        self._address = f"http://127.0.0.1:{port}/"
        self._process = subprocess.Popen(
            [
                program,
                "-Xmx256m",
                # A session is short: compiling much and collecting in parallel costs more than
                # it brings, on two cores that Chromium wants as well.
                "-XX:TieredStopAtLevel=1",
                "-XX:+UseSerialGC",
                "-Xss8m",  # its grammars go deep
                "-Dnu.validator.servlet.bind-address=127.0.0.1",
                "-cp",
                str(JAR),
                "nu.validator.servlet.Main",
                str(port),
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self._wait(port)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._process:
            self._process.terminate()
            self._process.wait(timeout=20)

    def _wait(self, port: int) -> None:
        deadline = time.monotonic() + SECONDS_TO_START
        while time.monotonic() < deadline:
            assert self._process is not None
            assert self._process.poll() is None, "The HTML checker stopped."
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
            except OSError:
                time.sleep(0.1)
            else:
                return
        raise AssertionError(f"The HTML checker did not start within {SECONDS_TO_START} s.")

    def messages(self, html: str) -> list[dict[str, Any]]:
        """The checker's errors and warnings about a whole page."""
        request = urllib.request.Request(  # noqa: S310 - our own address
            f"{self._address}?out=json",
            data=html.encode(),
            headers={"Content-Type": "text/html; charset=utf-8"},
        )
        with urllib.request.urlopen(request, timeout=60) as response:  # noqa: S310
            found: list[dict[str, Any]] = json.load(response)["messages"]
        return [m for m in found if m["type"] != "info" or m.get("subType") == "warning"]

    def assert_conforming_html(self, html: str) -> None:
        """Fail, naming line and message, unless the checker finds neither error nor warning."""
        lines = [
            f"line {m.get('lastLine', '?')}: {m.get('subType', m['type'])}: {m['message']}\n"
            f"    {m.get('extract', '').strip()}"
            for m in self.messages(html)
        ]
        assert not lines, "Not conforming HTML:\n" + "\n".join(lines)


if __name__ == "__main__":
    sys.exit(None if java() else "Missing: a Java that starts.")
