"""`manage.py serve` on both its ports: real handshakes, with the authority as the only trust."""

import contextlib
import http.client
import os
import re
import shutil
import socket
import ssl
import stat
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from brewhygiene.certificates.making import make_authority, make_leaf, pem_of
from brewhygiene.certificates.names import names_of
from tests import clock
from tests.serving.test_serve import ROOT, Server, clean_environment, free_port

# OpenSSL's own clock is the machine's: the chain's time is checked by `openssl` at a given moment.
NO_CHECK_TIME = 0x200000


class SecureServer(Server):
    """A server whose second port is known too."""

    def __init__(self, data_dir: Path, **environment: str) -> None:
        self.https_port = free_port()
        super().__init__(data_dir, **{"HTTPS_PORT": str(self.https_port), **environment})

    def authority(self) -> bytes:
        """As a tablet gets it, over plain HTTP."""
        response, body = self.get("/trust/brewhygiene.crt")
        assert response.status == 200
        assert response.headers["Content-Type"] == "application/x-x509-ca-cert"
        return body

    def trusting(self, authority: bytes | None = None) -> ssl.SSLContext:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        context.load_verify_locations(cadata=authority or self.authority())
        context.verify_flags |= NO_CHECK_TIME
        return context

    def connection(self, host: str = "127.0.0.1") -> http.client.HTTPSConnection:
        return http.client.HTTPSConnection(
            host, self.https_port, timeout=30, context=self.trusting()
        )

    def leaf(self) -> bytes:
        """The certificate that a connection is shown now."""
        with (
            socket.create_connection(("127.0.0.1", self.https_port), timeout=30) as raw,
            self.trusting().wrap_socket(raw, server_hostname="127.0.0.1") as encrypted,
        ):
            shown = encrypted.getpeercert(binary_form=True)
        assert shown is not None
        return shown


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SecureServer]:
    running = SecureServer(tmp_path_factory.mktemp("https") / "data", NO_DEMO="1").wait()
    yield running
    running.stop()


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost"])
def test_device_that_trusts_the_authority_is_served(server: SecureServer, host: str) -> None:
    connection = server.connection(host)
    connection.request("GET", "/trust/")
    response = connection.getresponse()
    assert response.status == 200
    assert b"This page came over HTTPS." in response.read()
    assert response.headers["Strict-Transport-Security"] is None
    assert response.headers["Server"] is None
    # The same connection again: tablets keep theirs.
    connection.request("GET", "/healthz")
    assert connection.getresponse().read() == b"ok\n"
    connection.close()


def test_device_that_does_not_trust_it_refuses(server: SecureServer) -> None:
    with (
        socket.create_connection(("127.0.0.1", server.https_port), timeout=30) as raw,
        pytest.raises(ssl.SSLCertVerificationError),
    ):
        ssl.create_default_context().wrap_socket(raw, server_hostname="localhost")


def test_another_name_is_refused(server: SecureServer) -> None:
    with (
        socket.create_connection(("127.0.0.1", server.https_port), timeout=30) as raw,
        pytest.raises(ssl.SSLCertVerificationError, match="mismatch"),
    ):
        server.trusting().wrap_socket(raw, server_hostname="bank.example")


def test_openssl_shakes_hands_and_verifies_the_chain(server: SecureServer, tmp_path: Path) -> None:
    authority = tmp_path / "authority.pem"
    authority.write_text(ssl.DER_cert_to_PEM_cert(server.authority()))
    command = [
        "openssl",
        "s_client",
        "-connect",
        f"127.0.0.1:{server.https_port}",
        "-tls1_3",
        "-CAfile",
        authority,
        "-no-CApath",
        "-verify_return_error",
        "-verify_ip",
        "127.0.0.1",
        "-x509_strict",
        "-attime",
        str(int(clock.ORIGIN.timestamp())),
    ]
    found = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True)
    assert found.returncode == 0, found.stderr
    assert "Verify return code: 0 (ok)" in found.stdout
    assert "TLSv1.3" in found.stdout


def test_old_versions_of_tls_are_refused(server: SecureServer) -> None:
    command = [
        "openssl",
        "s_client",
        "-connect",
        f"127.0.0.1:{server.https_port}",
        "-tls1_1",
        "-cipher",
        "DEFAULT@SECLEVEL=0",
    ]
    found = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True)
    assert found.returncode != 0
    assert "alert protocol version" in found.stderr


def test_both_ports_answer_at_once(server: SecureServer) -> None:
    """An open connection on each; neither waits for the other, and static files come whole."""
    encrypted = server.connection()
    address = re.findall(r'rel="stylesheet"[^>]*href="([^"]+)"', server.arrive())[0]
    for _ in range(3):
        encrypted.request("GET", address, headers={"Accept-Encoding": "identity"})
        _, plain = server.get(address, Accept_Encoding="identity")
        assert encrypted.getresponse().read() == plain
    encrypted.close()


def test_console_says_where_and_what_to_compare(server: SecureServer) -> None:
    said = server.said()
    assert f":{server.https_port}/   once the device trusts it\n" in said
    shown = re.findall(r"^    ((?:[0-9A-F]{2}:){31}[0-9A-F]{2})$", said, re.M)
    command = ["openssl", "x509", "-inform", "DER", "-noout", "-fingerprint", "-sha256"]
    own = subprocess.run(command, input=server.authority(), capture_output=True, check=True).stdout
    assert [own.decode().strip().partition("=")[2]] == shown
    assert shown[0] in server.get("/trust/")[1].decode()


def test_page_over_plain_http_may_ask_over_https(server: SecureServer) -> None:
    response, body = server.get("/trust/")
    origin = f"https://127.0.0.1:{server.https_port}"
    assert f"connect-src 'self' {origin};" in response.headers["Content-Security-Policy"] + ";"
    assert f'data-https="{origin}"' in body.decode()
    connection = server.connection()
    connection.request("GET", "/trust/reached", headers={"Origin": "http://127.0.0.1"})
    answer = connection.getresponse()
    assert (answer.status, answer.headers["Access-Control-Allow-Origin"]) == (200, "*")
    connection.close()


def test_keys_are_for_the_servers_account_alone(server: SecureServer) -> None:
    folder = server.data_dir / "tls"
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in [folder, *folder.iterdir()]}
    assert modes == {"tls": 0o700, "authority.pem": 0o600, "server.pem": 0o600}


def test_slow_devices_hold_up_nobody(server: SecureServer) -> None:
    """More than there are threads: silent before the handshake, in it, and in a request."""
    with contextlib.ExitStack() as opened:
        at = ("127.0.0.1", server.https_port)
        for _ in range(12):
            opened.enter_context(socket.create_connection(at, timeout=30))
            begun = opened.enter_context(socket.create_connection(at, timeout=30))
            begun.sendall(b"\x16\x03\x01\x02\x00\x01")
            raw = opened.enter_context(socket.create_connection(at, timeout=30))
            half = server.trusting().wrap_socket(raw, server_hostname="localhost")
            opened.enter_context(half)
            half.sendall(b"POST /sign-in/ HTTP/1.1\r\nHost: a\r\nContent-Length: 900\r\n\r\nhalf")
        connection = server.connection()
        connection.request("GET", "/healthz")
        assert connection.getresponse().read() == b"ok\n"
        connection.close()


def test_who_speaks_no_tls_is_hung_up_on(server: SecureServer) -> None:
    with socket.create_connection(("127.0.0.1", server.https_port), timeout=30) as raw:
        raw.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
        with contextlib.suppress(ConnectionResetError):
            while raw.recv(1000):
                pass
    assert "Traceback" not in server.said()


@pytest.mark.parametrize("bytes_sent", [0, 1, 16_384, 3_000_000])
def test_upload_comes_whole(server: SecureServer, bytes_sent: int) -> None:
    """To an address that takes none: the body is read to its end before the answer."""
    connection = server.connection()
    connection.request("POST", "/trust/reached", body=b"x" * bytes_sent)
    answer = connection.getresponse()
    assert answer.status == 403  # no token
    answer.read()
    connection.request("GET", "/healthz")
    assert connection.getresponse().read() == b"ok\n"
    connection.close()


def test_upload_beyond_the_limit_is_refused(server: SecureServer) -> None:
    connection = server.connection()
    connection.putrequest("POST", "/")
    connection.putheader("Content-Length", "99999999")
    connection.endheaders()
    assert connection.getresponse().status == 413
    connection.close()


def test_header_of_an_untrusted_proxy_is_not_believed(server: SecureServer) -> None:
    """What came in the clear stays so, whatever it says of itself."""
    _, body = server.get("/trust/", X_Forwarded_Proto="https")
    assert b"This page came over HTTPS." not in body


def test_many_connections_at_once_each_get_their_answer(server: SecureServer) -> None:
    answers: list[bytes] = []

    def ask() -> None:
        connection = server.connection()
        for _ in range(5):
            connection.request("GET", "/trust/")
            answers.append(connection.getresponse().read()[-8:])
        connection.close()

    asking = [threading.Thread(target=ask) for _ in range(20)]
    for one in asking:
        one.start()
    for one in asking:
        one.join()
    assert answers == [b"</html>\n"] * 100


# Servers of their own


@pytest.fixture
def start(tmp_path: Path, server: SecureServer) -> Iterator[Callable[..., SecureServer]]:
    """Starts servers on one folder, which has its static files compressed already."""
    shutil.copytree(server.data_dir / "static", tmp_path / "data" / "static")
    servers: list[SecureServer] = []

    def run(**environment: str) -> SecureServer:
        servers.append(SecureServer(tmp_path / "data", NO_DEMO="1", **environment))
        return servers[-1].wait()

    yield run
    for one in servers:
        if one.process.poll() is None:
            one.stop()


def test_stops_cleanly_with_connections_open_and_keeps_its_authority(
    start: Callable[..., SecureServer], tmp_path: Path
) -> None:
    first = start()
    connection = first.connection()
    connection.request("GET", "/healthz")
    assert connection.getresponse().read() == b"ok\n"
    idle = socket.create_connection(("127.0.0.1", first.https_port), timeout=30)
    authority, leaf = first.authority(), first.leaf()
    assert first.stop() == 0
    assert first.said().endswith("Stopped.\n")
    assert "Traceback" not in first.said()
    idle.close()
    connection.close()
    second = start()
    assert (second.authority(), second.leaf()) == (authority, leaf)
    assert second.stop() == 0
    assert second.said().endswith("Stopped.\n")


def test_certificate_of_the_sites_own(start: Callable[..., SecureServer], tmp_path: Path) -> None:
    names = names_of(["localhost", "127.0.0.1"])
    key, authority = make_authority(names, now=clock.ORIGIN - timedelta(days=3))
    pem = pem_of(*make_leaf(key, authority, names, now=clock.ORIGIN)).decode()
    begin = pem.index("-----BEGIN CERTIFICATE")
    (tmp_path / "site.key").write_text(pem[:begin])
    (tmp_path / "site.crt").write_text(pem[begin:])
    running = start(TLS_CERT=str(tmp_path / "site.crt"), TLS_KEY=str(tmp_path / "site.key"))
    from cryptography.hazmat.primitives.serialization import Encoding

    trusting = running.trusting(authority.public_bytes(Encoding.DER))
    connection = http.client.HTTPSConnection(
        "127.0.0.1", running.https_port, timeout=30, context=trusting
    )
    connection.request("GET", "/trust/")
    assert b"a certificate that your site obtained itself" in connection.getresponse().read()
    connection.close()
    assert running.get("/trust/brewhygiene.crt")[0].status == 404
    assert f"Its certificate is the site's own, from {tmp_path}/site.crt." in running.said()
    assert not (running.data_dir / "tls").exists()


def outcome(tmp_path: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, ROOT / "manage.py", "serve"],
        env=clean_environment(tmp_path / "data", PORT=str(free_port()), NO_DEMO="1", **environment),
        capture_output=True,
        text=True,
    )


def test_certificate_of_the_site_that_is_not_there_stops_the_start(tmp_path: Path) -> None:
    found = outcome(tmp_path, TLS_CERT=str(tmp_path / "no.crt"), HTTPS_PORT=str(free_port()))
    assert found.returncode == 1
    assert f"CommandError: TLS_CERT names {tmp_path}/no.crt: No such file" in found.stderr


def test_port_asked_for_by_name_has_to_be_free(server: SecureServer, tmp_path: Path) -> None:
    port = server.https_port
    found = outcome(tmp_path, HTTPS_PORT=str(port))
    assert found.returncode == 1
    assert f"Port {port} is taken" in found.stderr
    assert f"HTTPS_PORT={port + 1} make run" in found.stderr


@pytest.mark.parametrize("port", ["eight", "65536", "-1"])
def test_port_that_is_none_is_refused(tmp_path: Path, port: str) -> None:
    found = outcome(tmp_path, HTTPS_PORT=port)
    assert found.returncode == 1
    words = f"Set HTTPS_PORT to a number from 1 to 65535, or to 0 for none, not '{port}'.\n"
    assert found.stderr.endswith(words)


@pytest.mark.parametrize("environment", [{"HTTPS_PORT": "0"}, {"HTTPS": "1"}])
def test_plain_http_alone(start: Callable[..., SecureServer], environment: dict[str, str]) -> None:
    """Where it is switched off, and where a proxy terminates TLS."""
    running = start(**environment)
    assert "https://" not in running.said()
    assert running.get("/healthz")[1] == b"ok\n"
    assert b"data-https" not in running.get("/trust/")[1]
    assert not (running.data_dir / "tls").exists()
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", running.https_port), timeout=5)


def test_damaged_authority_leaves_plain_http(
    start: Callable[..., SecureServer], tmp_path: Path
) -> None:
    """The cellar goes on without."""
    (tmp_path / "data" / "tls").mkdir(parents=True)
    (tmp_path / "data" / "tls" / "authority.pem").write_text("damaged")
    running = start()
    assert f"HTTPS is not served. {tmp_path}/data/tls/authority.pem holds no" in running.said()
    assert b"data-https" not in running.get("/trust/")[1]
    assert running.get("/healthz")[1] == b"ok\n"
    assert os.listdir(tmp_path / "data" / "tls") == ["authority.pem"]  # noqa: PTH208


def test_usual_port_that_is_taken_leaves_plain_http(start: Callable[..., SecureServer]) -> None:
    """Nobody asked for it by name: a second server on this machine starts as it always did."""
    with socket.socket() as other:
        other.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        with contextlib.suppress(OSError):  # taken already is as good
            other.bind(("0.0.0.0", 8443))  # noqa: S104 - as the server does
            other.listen()
        running = start(HTTPS_PORT="")
        assert "HTTPS is not served. Port 8443 is taken" in running.said()
        assert running.get("/healthz")[1] == b"ok\n"
