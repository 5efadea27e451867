"""The server of both ports: plain HTTP and HTTPS, one process, one queue of threads.

Waitress reads requests without a thread and hands only whole ones to the threads, so that a slow
tablet holds up nobody, but it has no TLS. :class:`TLSChannel` puts it where bytes are received and
sent: all limits, time limits and buffers of the server stay as they are for plain HTTP.
"""

import logging
import socket
import ssl
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import MultiSocketServer, TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher

# A handshake takes a few hundred milliseconds in a bad wireless; it holds nothing but a socket.
HANDSHAKE_WITHIN_S = 10


class TLSChannel(HTTPChannel):
    """A connection whose bytes are encrypted. The handshake is made without waiting for it."""

    def __init__(self, *given: Any, **more: Any) -> None:
        self.shaking, self.wants_to_write = True, False
        # A thread may send while the loop receives, which one connection of OpenSSL cannot bear.
        self.one_at_a_time = threading.Lock()
        super().__init__(*given, **more)

    def readable(self) -> bool:
        if self.shaking:
            return not self.wants_to_write and not self.will_close
        return bool(super().readable())

    def writable(self) -> bool:
        if self.shaking:
            return bool(self.wants_to_write or self.will_close)
        return bool(super().writable())

    def handle_read(self) -> None:
        if self.shaking:
            self.shake()
            return
        try:
            data = self.decrypted()
        except OSError:
            self.handle_close()
            return
        if data:
            self.last_activity = time.time()
            self.received(data)

    def handle_write(self) -> None:
        if self.shaking and not self.will_close:
            self.shake()
        else:
            super().handle_write()

    def shake(self) -> None:
        """One more piece of the handshake, as far as the other side is."""
        self.wants_to_write = False
        try:
            self.socket.do_handshake()
        except ssl.SSLWantReadError:
            return
        except ssl.SSLWantWriteError:
            self.wants_to_write = True
            return
        except (OSError, ValueError):
            # A tablet that does not trust the certificate hangs up here: nothing to tell.
            self.handle_close()
            return
        self.shaking = False
        self.last_activity = time.time()

    def decrypted(self) -> bytes:
        """What has come; empty where no whole piece has, or the other side hung up."""
        with self.one_at_a_time:
            try:
                data: bytes = self.socket.recv(self.adj.recv_bytes)
                # What OpenSSL has decrypted already is not announced by the socket again.
                while data and self.socket.pending():
                    data += self.socket.recv(self.socket.pending())
            except (ssl.SSLWantReadError, ssl.SSLWantWriteError):
                return b""
        if not data:
            self.handle_close()
        return data

    def send(self, data: bytes, do_close: bool = True) -> int:
        with self.one_at_a_time:
            try:
                return int(self.socket.send(data))
            except (ssl.SSLWantReadError, ssl.SSLWantWriteError):
                return 0
            except OSError:
                if not do_close:
                    raise
        self.handle_close()
        return 0

    def close(self) -> None:
        if self.socket is not None and not self.shaking:
            # Says that this was the end; whether the other side hears it is not waited for.
            with self.one_at_a_time, suppress(OSError, ValueError):
                self.socket.unwrap()
        super().close()


class TLSServer(TcpWSGIServer):
    """The port with TLS. ``context`` is asked at each connection, so a new one holds at once."""

    def __init__(self, *args: Any, context: Callable[[], ssl.SSLContext], **options: Any) -> None:
        self.context = context
        super().__init__(*args, **options)

    def channel_class(self, server: Any, conn: socket.socket, *given: Any, **more: Any) -> None:
        try:
            conn.setblocking(False)
            encrypted = self.context().wrap_socket(
                conn, server_side=True, do_handshake_on_connect=False
            )
        except (OSError, ValueError):
            conn.close()
            return
        TLSChannel(server, encrypted, *given, **more)

    def maintenance(self, now: float) -> None:
        super().maintenance(now)
        for channel in self.active_channels.values():
            if channel.shaking and now - channel.creation_time > HANDSHAKE_WITHIN_S:
                channel.will_close = True


def make_server(
    application: Any,
    *,
    plain: socket.socket,
    encrypted: socket.socket | None = None,
    context: Callable[[], ssl.SSLContext] | None = None,
    **options: Any,
) -> MultiSocketServer:
    """A server of the plain port and, where there is a socket for it, of the encrypted one."""
    # It warns whenever a request waits for a thread, which on one machine is nothing to tell.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    connections: dict[int, Any] = {}
    threads = ThreadedTaskDispatcher()
    adjusted = Adjustments(**options)
    threads.set_thread_count(adjusted.threads)
    shared: dict[str, Any] = {
        "map": connections,
        "dispatcher": threads,
        "bind_socket": False,
    }
    listening = [
        TcpWSGIServer(application, _sock=plain, adj=adjusted, sockinfo=_about(plain), **shared)
    ]
    if encrypted is not None:
        assert context is not None
        listening.append(
            TLSServer(
                application,
                _sock=encrypted,
                adj=Adjustments(**options, url_scheme="https"),
                sockinfo=_about(encrypted),
                context=context,
                **shared,
            )
        )
    places = [(one.effective_host, one.effective_port) for one in listening]
    return MultiSocketServer(connections, adjusted, places, threads, listening[0].log_info)


def _about(sock: socket.socket) -> tuple[Any, ...]:
    return sock.family, sock.type, sock.proto, sock.getsockname()
