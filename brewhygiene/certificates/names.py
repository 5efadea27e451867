"""What this machine is called on the building's network: names and addresses."""

import dataclasses
import ipaddress
import re
import socket
import sys
from collections.abc import Iterable
from pathlib import Path

from django.conf import settings

LOCAL = ("localhost", "127.0.0.1")
# A name as a certificate may carry it: letters, digits and hyphens between dots.
_NAME = re.compile(
    r"(?=.{1,253}$)[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?(\.[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?)*"
)
# Where a responder answers for NAME.local; macOS has one of its own.
AVAHI = Path("/run/avahi-daemon/socket")


def is_address(word: str) -> bool:
    """Whether this is an IP address.

    >>> is_address("192.168.1.10"), is_address("tank.local")
    (True, False)
    """
    try:
        ipaddress.ip_address(word)
    except ValueError:
        return False
    return True


def is_name(word: str) -> bool:
    """Whether this can be a host's name.

    >>> is_name("cellar-1.local"), is_name("cellar_1"), is_name("192.168.1.10")
    (True, False, False)
    """
    return _NAME.fullmatch(word) is not None and not is_address(word)


@dataclasses.dataclass(frozen=True)
class Names:
    """Names and addresses that a certificate is for."""

    hosts: tuple[str, ...]
    addresses: tuple[str, ...]

    @property
    def all(self) -> tuple[str, ...]:
        return (*self.hosts, *self.addresses)


def names_of(words: Iterable[str]) -> Names:
    """Names and addresses apart, each once, in their order; what is neither is left out.

    >>> names_of(["Cellar", "cellar.local", "192.168.1.10", "cellar", "no_name"])
    Names(hosts=('cellar', 'cellar.local'), addresses=('192.168.1.10',))
    """
    given = list(dict.fromkeys(word.strip().lower().rstrip(".") for word in words))
    addresses = dict.fromkeys(str(ipaddress.ip_address(one)) for one in given if is_address(one))
    return Names(tuple(one for one in given if is_name(one)), tuple(addresses))


def lan_address() -> str | None:
    """This machine's address on the building's network, or ``None`` off any network."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Nothing is sent: it only asks which of our addresses such a packet would carry.
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return None
        address: str = probe.getsockname()[0]
    return None if address.startswith("127.") else address


def host_name() -> str:
    """The machine's own name without its domain, or '' where it cannot stand in an address."""
    short = socket.gethostname().lower().partition(".")[0]
    return short if is_name(short) and short != "localhost" else ""


def this_machine() -> Names:
    """Everything that a tablet may call this machine by. No query, no question to the network."""
    short = host_name()
    own = (short, f"{short}.local", socket.gethostname()) if short else ()
    return names_of([*own, lan_address() or "", *settings.TLS_NAMES, *LOCAL])


def stable_host() -> str:
    """The name that labels carry: NAME.local where something answers for it, else the address.

    A name outlives an address that the network gives anew; but without a responder on this machine
    no tablet finds it.
    """
    short = host_name()
    if short and (sys.platform == "darwin" or AVAHI.exists()):
        return f"{short}.local"
    return lan_address() or short or "localhost"
