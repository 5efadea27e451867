"""The addresses that this installation is printed and told with, whoever asks and by which name."""

import os
from urllib.parse import urlsplit

from django.conf import settings

from brewhygiene.certificates.names import is_address, is_name, stable_host
from brewhygiene.certificates.serving import https

USUAL_PORT = 8000


def _port() -> int:
    """The plain port: of this process, or what its server would have by the environment."""
    given = os.environ.get("PORT") or ""
    return https.http_port or (int(given) if given.isdecimal() else USUAL_PORT)


def plain_address() -> str:
    """Where every device reaches it, whatever it trusts."""
    return f"http://{stable_host()}:{_port()}/"


def preset_address() -> str:
    """What labels carry as long as the brewery has not said otherwise.

    Plain HTTP, since a label is scanned by tablets that trust the certificate and by those that do
    not yet. Behind a proxy that serves HTTPS, its usual port.
    """
    if settings.BEHIND_PROXY:
        return f"https://{stable_host()}/"
    return plain_address()


def site_address(words: str) -> str:
    """An address to print, in one form. Raises :class:`ValueError` with what is wrong with it.

    >>> site_address(" HTTP://Cellar.local:8000 ")
    'http://cellar.local:8000/'
    """
    given = words.strip()
    try:
        parts = urlsplit(given)
        host, port = (parts.hostname or "").lower(), parts.port
    except ValueError:
        raise ValueError("This is no address. For example: http://cellar.local:8000") from None
    if parts.scheme not in ("http", "https"):
        raise ValueError("Begin the address with http:// or https://")
    if not (is_name(host) or (is_address(host) and ":" not in host)):
        raise ValueError("Enter the server's name or its address of four numbers.")
    if host == "localhost" or host.startswith("127."):
        raise ValueError("This address opens on the server itself only, not on a tablet.")
    if parts.path not in ("", "/") or parts.query or parts.fragment or parts.username is not None:
        raise ValueError("Enter the address up to the name and port, with nothing after it.")
    if port == 0:
        raise ValueError("This is no address. For example: http://cellar.local:8000")
    return f"{parts.scheme}://{host}{f':{port}' if port else ''}/"
