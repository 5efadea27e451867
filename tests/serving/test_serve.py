"""`manage.py serve` as a newcomer starts it: a process of its own, asked over the network."""

import gzip
import hashlib
import http.client
import os
import re
import shutil
import signal
import socket
import sqlite3
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import brotli
import pytest

from brewhygiene.bundles import plotly_bundle
from tests import clock

ROOT = Path(__file__).parents[2]
SECONDS_TO_START = 180  # filling in the invented brewery, on a busy machine


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


class Server:
    """One running server."""

    def __init__(self, data_dir: Path, **environment: str) -> None:
        self.port = free_port()
        self.data_dir = data_dir
        self._output = data_dir.with_suffix(f".{self.port}.log")
        with self._output.open("wb") as output:
            self.process = subprocess.Popen(
                [sys.executable, ROOT / "manage.py", "serve"],
                cwd=data_dir.parent,  # works from any folder
                env=clean_environment(data_dir, PORT=str(self.port), **environment),
                stdout=output,
                stderr=subprocess.STDOUT,
            )

    def said(self) -> str:
        return self._output.read_text(encoding="utf-8")

    def wait(self) -> "Server":
        deadline = time.monotonic() + SECONDS_TO_START
        while "Stop with Ctrl+C" not in self.said():
            assert self.process.poll() is None, f"The server stopped:\n{self.said()[-1500:]}"
            assert time.monotonic() < deadline, f"The server did not start:\n{self.said()}"
            time.sleep(0.05)
        return self

    def get(self, path: str, **headers: str) -> tuple[http.client.HTTPResponse, bytes]:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        connection.request(
            "GET", path, headers={name.replace("_", "-"): value for name, value in headers.items()}
        )
        response = connection.getresponse()
        body = response.read()
        connection.close()
        return response, body

    def arrive(self) -> str:
        """The page that a newcomer ends on, after being sent on."""
        response, body = self.get("/")
        for _ in range(4):
            if response.status == 302:
                response, body = self.get(response.headers["Location"])
        assert response.status == 200
        return body.decode()

    def stop(self) -> int:
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(timeout=30)


def clean_environment(data_dir: Path, **more: str) -> dict[str, str]:
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    # One port for each server is enough here; both are asked in test_https.py.
    alone = {"HTTPS_PORT": "0"}
    return {**kept, **clock.environment(), "DATA_DIR": str(data_dir), **alone, **more}


@pytest.fixture
def start(tmp_path: Path, bare: Server) -> Iterator[Callable[..., Server]]:
    """Starts servers on one folder, which has its static files compressed already."""
    shutil.copytree(bare.data_dir / "static", tmp_path / "data" / "static")
    servers: list[Server] = []

    def run(**environment: str) -> Server:
        servers.append(Server(tmp_path / "data", **environment))
        return servers[-1].wait()

    yield run
    for server in servers:
        if server.process.poll() is None:
            server.stop()


@pytest.fixture(scope="module")
def bare(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server without the invented brewery, for the tests that only ask it something."""
    server = Server(tmp_path_factory.mktemp("bare") / "data", NO_DEMO="1").wait()
    yield server
    server.stop()


def test_first_start_compresses_the_static_files(bare: Server) -> None:
    assert bare.said().count("Static files compressed") == 1


def test_newcomer_arrives_at_a_page(bare: Server) -> None:
    assert len(re.findall(r"<h1\b", bare.arrive())) == 1


def test_response_does_not_name_the_server(bare: Server) -> None:
    response, _ = bare.get("/")
    assert response.headers["Server"] is None


def stylesheet(server: Server) -> str:
    return re.findall(r'rel="stylesheet"[^>]*href="([^"]+)"', server.arrive())[0]


@pytest.mark.parametrize("encoding", ["br", "gzip", "identity"])
def test_static_file_is_compressed_and_cached_for_ever(bare: Server, encoding: str) -> None:
    address = stylesheet(bare)
    assert re.search(r"\.[0-9a-f]{12}\.css$", address)
    response, body = bare.get(address, Accept_Encoding=encoding)
    assert response.status == 200
    assert response.headers["Cache-Control"] == "max-age=315360000, public, immutable"
    assert response.headers.get("Content-Encoding", "identity") == encoding
    plain = bare.get(address, Accept_Encoding="identity")[1]
    assert len(body) < len(plain) or encoding == "identity"
    if encoding == "gzip":
        assert gzip.decompress(body) == plain


def test_charts_bundle_is_compressed_and_cached_for_ever(bare: Server) -> None:
    bundle = plotly_bundle().read_bytes()
    name = hashlib.md5(bundle, usedforsecurity=False).hexdigest()[:12]
    response, body = bare.get(f"/static/plotly/plotly.min.{name}.js", Accept_Encoding="br")
    assert response.status == 200
    assert response.headers["Cache-Control"] == "max-age=315360000, public, immutable"
    assert response.headers["Content-Encoding"] == "br"
    assert brotli.decompress(body) == bundle


def test_upload_beyond_the_limit_is_refused(bare: Server) -> None:
    with socket.create_connection(("127.0.0.1", bare.port), timeout=10) as connection:
        connection.sendall(
            b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99999999\r\n\r\n"
        )
        assert connection.recv(100).startswith(b"HTTP/1.1 413 ")


def test_header_of_an_untrusted_proxy_is_not_believed(bare: Server) -> None:
    response, _ = bare.get("/", X_Forwarded_Proto="https")
    assert response.headers["Strict-Transport-Security"] is None


def test_header_of_the_trusted_proxy_is_believed(start: Callable[..., Server]) -> None:
    response, _ = start(NO_DEMO="1", HTTPS="1").get("/", X_Forwarded_Proto="https")
    assert response.headers["Strict-Transport-Security"] == "max-age=2592000"


def test_taken_port_is_named(bare: Server, tmp_path: Path) -> None:
    outcome = subprocess.run(
        [sys.executable, ROOT / "manage.py", "serve"],
        env=clean_environment(tmp_path / "other", PORT=str(bare.port), NO_DEMO="1"),
        capture_output=True,
        text=True,
    )
    assert outcome.returncode == 1
    assert outcome.stderr == (
        f"CommandError: Port {bare.port} is taken: another program on this machine answers there "
        f"(an earlier make run?). Stop it, or choose another: PORT={bare.port + 1} make run\n"
    )


@pytest.mark.parametrize("port", ["eight", "0", "65536", "-1"])
def test_port_that_is_none_is_refused(tmp_path: Path, port: str) -> None:
    outcome = subprocess.run(
        [sys.executable, ROOT / "manage.py", "serve"],
        env=clean_environment(tmp_path / "other", PORT=port),
        capture_output=True,
        text=True,
    )
    assert outcome.returncode == 1
    assert outcome.stderr == f"CommandError: Set PORT to a number from 1 to 65535, not '{port}'.\n"


def test_first_start_fills_in_the_invented_brewery_and_the_second_keeps_the_data(
    start: Callable[..., Server], tmp_path: Path
) -> None:
    from brewhygiene.demo.people import DEMO_SIGN_INS

    first = start()
    assert "First start: adding an invented brewery" in first.said()
    for row in DEMO_SIGN_INS:
        assert re.search(r"^ {4}" + r" +".join(map(re.escape, row)) + "$", first.said(), re.M)
    assert first.stop() == 0
    key = (tmp_path / "data" / "secret_key").read_text()
    with sqlite3.connect(tmp_path / "data" / "brewhygiene.sqlite3") as database:
        database.execute("UPDATE brewhygiene_vessel SET name = 'Kept' WHERE id = 1")
    database.close()

    # Gone back to an earlier state would be named; this is the same one.
    second = start()
    assert "First start" not in second.said()
    assert "older than its folder" not in second.said()
    assert "Static files compressed" not in second.said()
    with sqlite3.connect(tmp_path / "data" / "brewhygiene.sqlite3") as database:
        kept = database.execute("SELECT name FROM brewhygiene_vessel WHERE id = 1").fetchone()
    database.close()
    assert kept == ("Kept",)
    assert (tmp_path / "data" / "secret_key").read_text() == key
    assert second.stop() == 0

    # Without its database the folder is never filled in again.
    for path in (tmp_path / "data").glob("brewhygiene.sqlite3*"):
        path.unlink()
    with pytest.raises(AssertionError, match="Nothing was filled in"):
        start()


def test_damaged_database_is_named_at_the_start(tmp_path: Path) -> None:
    folder = tmp_path / "other"
    folder.mkdir()
    (folder / "brewhygiene.sqlite3").write_bytes(b"no database " * 1000)
    outcome = subprocess.run(
        [sys.executable, ROOT / "manage.py", "serve"],
        env=clean_environment(folder, PORT=str(free_port())),
        capture_output=True,
        text=True,
    )
    assert outcome.returncode == 1
    assert outcome.stderr == (
        f"CommandError: The database file {folder}/brewhygiene.sqlite3 is damaged. Keep {folder} "
        "as it is, and restore the newest archive into an empty folder: manage.py restore. "
        "(SQLite: file is not a database)\n"
    )
    assert (folder / "brewhygiene.sqlite3").read_bytes() == b"no database " * 1000


def test_data_is_for_the_servers_account_alone(bare: Server) -> None:
    folder = Path(re.findall(r"Data is in (\S+)\. Stop", bare.said())[0])
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in [folder, *folder.iterdir()]}
    assert {name: mode for name, mode in modes.items() if mode & 0o077} == {}
    assert {"brewhygiene.sqlite3", "secret_key", "installation.json"} < set(modes)


def test_without_people_it_says_where_the_first_is_added(bare: Server) -> None:
    assert "Nobody can sign in yet. Open the first page to add the head brewer.\n" in bare.said()
