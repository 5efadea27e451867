"""Servers with TLS side by side, on the same small application: `python -m tests.bench.servers`.

What is measured is the server's own work: fifty connections that stay open, as tablets keep them,
and how long one request takes while others hold a connection without sending anything. Servers
that are not installed are left out: `pip install cheroot hypercorn` in an environment aside.
"""

import asyncio
import os
import socket
import ssl
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from http.client import HTTPSConnection
from pathlib import Path
from typing import Any

TABLETS, SECONDS, SLOW = 50, 6.0, 20
THREADS = 8


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> list[bytes]:
    if environ["REQUEST_METHOD"] == "POST":
        while environ["wsgi.input"].read(65536):
            pass
    start_response("200 OK", [("Content-Type", "text/plain"), ("Content-Length", "4")])
    return [b"1204"]


# The servers


def with_waitress(port: int, pem: str) -> None:
    from brewhygiene.management.answering import make_server

    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(pem)
    plain, encrypted = (socket.create_server(("127.0.0.1", at)) for at in (port + 1, port))
    make_server(
        application,
        plain=plain,
        encrypted=encrypted,
        context=lambda: context,
        threads=THREADS,
        connection_limit=500,
    ).run()


def with_cheroot(port: int, pem: str) -> None:
    from cheroot.ssl.builtin import BuiltinSSLAdapter
    from cheroot.wsgi import Server

    server = Server(("127.0.0.1", port), application, numthreads=THREADS)
    server.ssl_adapter = BuiltinSSLAdapter(pem, pem)
    server.start()


def with_hypercorn(port: int, pem: str) -> None:
    from concurrent.futures import ThreadPoolExecutor

    from hypercorn.asyncio import serve
    from hypercorn.config import Config

    config = Config()
    config.bind, config.insecure_bind = [f"127.0.0.1:{port}"], [f"127.0.0.1:{port + 1}"]
    config.certfile = config.keyfile = pem

    async def run() -> None:
        asyncio.get_running_loop().set_default_executor(ThreadPoolExecutor(THREADS))
        await serve(application, config, mode="wsgi")  # type: ignore[arg-type]

    asyncio.run(run())


SERVERS = {"waitress": with_waitress, "cheroot": with_cheroot, "hypercorn": with_hypercorn}


# The tablets


def connection(port: int) -> HTTPSConnection:
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    return HTTPSConnection("127.0.0.1", port, timeout=30, context=context)


def ask(tablet: HTTPSConnection, method: str = "GET", body: bytes | None = None) -> float:
    began = time.perf_counter()
    tablet.request(method, "/now/", body=body)
    answer = tablet.getresponse()
    answer.read()
    assert answer.status == 200
    return time.perf_counter() - began


def as_fast_as_possible(port: int) -> list[float]:
    took: list[float] = []
    until = time.perf_counter() + SECONDS

    def go() -> None:
        tablet = connection(port)
        while time.perf_counter() < until:
            took.append(ask(tablet))
        tablet.close()

    tablets = [threading.Thread(target=go) for _ in range(TABLETS)]
    for tablet in tablets:
        tablet.start()
    for tablet in tablets:
        tablet.join()
    return sorted(took)


def processor_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def memory_mb(pid: int) -> float:
    return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def beside_slow_ones(port: int, begin: Callable[[socket.socket], Any]) -> float:
    """How long one request takes while connections are open that only began."""
    slow = [socket.create_connection(("127.0.0.1", port), timeout=30) for _ in range(SLOW)]
    kept: list[Any] = []
    try:
        kept.extend(begin(one) for one in slow)
        return ask(connection(port))
    except OSError:
        return float("inf")
    finally:
        for one in [*kept, *slow]:
            one.close()


def half_a_request(raw: socket.socket) -> ssl.SSLSocket:
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    encrypted = context.wrap_socket(raw)
    encrypted.sendall(b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 900000\r\n\r\nhalf")
    return encrypted


def measure(name: str, pem: str) -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = subprocess.Popen([sys.executable, "-m", "tests.bench.servers", name, str(port), pem])
    try:
        for _ in range(200):
            try:
                ask(connection(port))
                break
            except OSError:
                time.sleep(0.1)
                assert server.poll() is None
        spent, began = processor_s(server.pid), time.perf_counter()
        took = as_fast_as_possible(port)
        seconds = time.perf_counter() - began
        spent = processor_s(server.pid) - spent
        upload = ask(connection(port), "POST", b"x" * 15_000_000)
        memory = memory_mb(server.pid)
        silent = beside_slow_ones(port, lambda raw: raw)
        half = beside_slow_ones(port, half_a_request)
        print(
            f"| {name} | {len(took) / seconds:.0f} | {took[int(len(took) * 0.95)] * 1000:.0f} ms | "
            f"{spent / len(took) * 1000:.2f} ms | {memory:.0f} MB | {upload:.2f} s | "
            f"{silent:.2f} s | {half:.2f} s |",
            flush=True,
        )
    finally:
        server.kill()
        server.wait()


def main() -> None:
    from brewhygiene.certificates.making import make_authority, make_leaf, pem_of
    from brewhygiene.certificates.names import Names

    now, names = datetime.now(UTC), Names(("localhost",), ("127.0.0.1",))
    key, authority = make_authority(names, now=now)
    print(
        "| server | requests a second | p95 | processor a request | memory | 15 MB sent | "
        "one request beside 20 silent connections | beside 20 half requests |"
    )
    with tempfile.NamedTemporaryFile(suffix=".pem") as file:
        file.write(pem_of(*make_leaf(key, authority, names, now=now)))
        file.flush()
        for name in SERVERS:
            measure(name, file.name)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        SERVERS[sys.argv[1]](int(sys.argv[2]), sys.argv[3])
    else:
        main()
