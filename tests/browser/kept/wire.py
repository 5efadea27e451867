"""A wire between tablets and the server that a test cuts, freezes and mends."""

import socket
import threading
from contextlib import suppress
from types import TracebackType
from urllib.parse import urlsplit

CHUNK = 65_536


class Wire:
    """Passes bytes to a server; ``frozen`` keeps back its answers, ``cut`` drops everything.

    What reached the server before it froze is carried out there: the tablet only never hears.
    """

    def __init__(self, server: str) -> None:
        there = urlsplit(server)
        assert there.hostname is not None
        assert there.port is not None
        self._there = (there.hostname, there.port)
        self._listening = socket.create_server(("127.0.0.1", 0))
        self._ends: list[socket.socket] = []
        self._passing: list[threading.Thread] = []
        self._mended = threading.Event()
        self._mended.set()
        self.is_cut = False
        self.address = f"http://localhost:{self._listening.getsockname()[1]}"
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        with suppress(OSError):
            while True:
                tablet, _ = self._listening.accept()
                if self.is_cut:
                    tablet.close()
                    continue
                server = socket.create_connection(self._there)
                self._ends += [tablet, server]
                for ends, holds in (((tablet, server), False), ((server, tablet), True)):
                    thread = threading.Thread(target=self._pass, args=(*ends, holds), daemon=True)
                    self._passing.append(thread)
                    thread.start()

    def _pass(self, one: socket.socket, other: socket.socket, holds: bool) -> None:
        with suppress(OSError):
            while chunk := one.recv(CHUNK):
                if holds:
                    self._mended.wait()
                other.sendall(chunk)
        for end in (one, other):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
        one.close()

    def freeze(self) -> None:
        self._mended.clear()

    def cut(self) -> None:
        """As by a killed server: what is under way breaks off, nothing new is answered."""
        self.is_cut = True
        for end in self._ends:
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
        self._ends.clear()
        # Only now: an answer that was held is lost.
        self._mended.set()

    def mend(self) -> None:
        self.is_cut = False
        self._mended.set()

    def __enter__(self) -> "Wire":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        where: TracebackType | None,
    ) -> None:
        self.cut()
        self._listening.close()
        for thread in self._passing:
            thread.join()
