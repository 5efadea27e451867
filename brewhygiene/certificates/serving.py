"""HTTPS as this process serves it: which certificate, until when, and what is wrong with it.

The server asks for ``context`` at every connection, so that a renewed certificate holds from the
next one on without a restart. Once a minute the certificate is looked at again: for its age, for a
new address of this machine, and for a new file where the site has a certificate of its own.
"""

import dataclasses
import logging
import ssl
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from cryptography import x509
from django.conf import settings
from django.utils import timezone

from brewhygiene.certificates import keeping
from brewhygiene.certificates.keeping import Unusable
from brewhygiene.certificates.making import fingerprint
from brewhygiene.certificates.names import Names, this_machine

LOOK_S = 60.0

log = logging.getLogger(__name__)


@dataclasses.dataclass(frozen=True)
class Shown:
    """The certificate that tablets are shown; ``authority`` is ours, or ``None``."""

    leaf: x509.Certificate
    authority: x509.Certificate | None
    beyond: tuple[str, ...] = ()


class HttpsService:
    """The state of HTTPS. ``port`` is 0 where it is not served; ``why`` is what is wrong, or ''."""

    def __init__(self) -> None:
        self.http_port = 0
        self.port = 0
        self.why = ""
        self.shown: Shown | None = None
        self._context: ssl.SSLContext | None = None
        self._loaded: object = None

    def context(self) -> ssl.SSLContext:
        assert self._context is not None, "HTTPS is served before it has a certificate."
        return self._context

    def look(self, names: Names, *, now: datetime) -> bool:
        """Renew and load what has to be; whether tablets are shown another certificate from now on.

        Raises :class:`Unusable` and keeps what was shown.
        """
        shown, path, key = _of_the_site() if settings.TLS_CERT else _of_ours(names, now=now)
        loaded = fingerprint(shown.leaf)
        if loaded != self._loaded:
            # A new context, not the old one with a new file in it: connections that shake hands
            # at this moment have one or the other.
            self._context = context_of(path, key)
        is_other, self._loaded, self.shown = loaded != self._loaded, loaded, shown
        return is_other

    def watch(self, wait: Callable[[float], bool]) -> None:
        """Look once a minute until ``wait`` says to stop."""
        while not wait(LOOK_S):
            self.look_again(this_machine(), now=timezone.now())

    def look_again(self, names: Names, *, now: datetime) -> None:
        """Look; what is wrong is said once, and tablets are shown what they were."""
        try:
            if self.look(names, now=now):
                log.warning("HTTPS has a new certificate.")
            self.why = ""
        except Unusable as error:
            if self.why != str(error):
                log.error("The certificate could not be renewed. %s", error)
            self.why = str(error)


https = HttpsService()


def _of_ours(names: Names, *, now: datetime) -> tuple[Shown, Path, Path | None]:
    kept = keeping.keep(names, now=now)
    return Shown(kept.leaf, kept.authority, kept.beyond), kept.path, None


def _of_the_site() -> tuple[Shown, Path, Path | None]:
    """The certificate that the site names, read from its files."""
    path, key = Path(settings.TLS_CERT), Path(settings.TLS_KEY) if settings.TLS_KEY else None
    try:
        leaf = x509.load_pem_x509_certificate(path.read_bytes())
    except OSError as error:
        raise Unusable(f"TLS_CERT names {path}: {error.strerror}.") from error
    except ValueError as error:
        raise Unusable(f"TLS_CERT names {path}, which holds no certificate (PEM).") from error
    return Shown(leaf, None), path, key


def context_of(path: Path, key: Path | None) -> ssl.SSLContext:
    """What a connection is made with. Raises :class:`Unusable`."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.options |= ssl.OP_NO_RENEGOTIATION
    context.set_alpn_protocols(["http/1.1"])
    try:
        context.load_cert_chain(path, key)
    except (OSError, ssl.SSLError) as error:
        raise Unusable(
            f"The certificate in {path} and its key{f' in {key}' if key else ''} cannot be used: "
            f"{error.strerror or error}."
        ) from error
    return context


def start_watching() -> threading.Event:
    """Look once a minute in a thread of its own, until the event that is given back is set."""
    stopped = threading.Event()
    threading.Thread(target=https.watch, args=[stopped.wait], daemon=True).start()
    return stopped
