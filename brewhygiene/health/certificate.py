"""What the health page says of HTTPS and its certificate."""

import dataclasses
from collections.abc import Callable
from datetime import datetime, timedelta

from django.conf import settings

from brewhygiene.certificates.keeping import OTHER_AUTHORITY, SAID_BEFORE_DAYS
from brewhygiene.certificates.making import BEFORE, covered_by
from brewhygiene.certificates.names import lan_address
from brewhygiene.certificates.serving import HttpsService, Shown, https
from brewhygiene.quantities.style import shown_moment

# A site's own certificate is renewed by the site: said so long before its end.
OWN_SAID_BEFORE_DAYS = 14


@dataclasses.dataclass(frozen=True)
class State:
    """What is so, and what to do about it, or ''."""

    value: str
    do: str = ""


def certificate_state(
    now: datetime,
    *,
    when: Callable[[datetime], str],
    service: HttpsService = https,
    address: Callable[[], str | None] = lan_address,
) -> State:
    """The certificate of HTTPS: until when, since when, for which names. No query."""
    if settings.BEHIND_PROXY:
        return State("Served by a proxy in the building")
    shown = service.shown
    if shown is None or not service.port:
        return State("Not served", service.why)
    names = covered_by(shown.leaf).all
    ours = shown.authority is not None
    # Ours begins a day before it is made.
    since = shown.leaf.not_valid_before_utc + (BEFORE if ours else timedelta(0))
    value = (
        f"Port {service.port}. Certificate {'renewed' if ours else 'begins'} {when(since)}, "
        f"ends {when(shown.leaf.not_valid_after_utc)}, for {', '.join(names)}"
    )
    return State(value, service.why or _wrong(shown, names, now, address()))


def _wrong(shown: Shown, names: tuple[str, ...], now: datetime, address: str | None) -> str:
    leaf, authority = shown.leaf, shown.authority
    if now >= leaf.not_valid_after_utc:
        return "The certificate has ended. Restart the server, and look at its messages."
    if now < leaf.not_valid_before_utc:
        return "The certificate begins later than this clock says. Set the clock of the server."
    if shown.beyond:
        return f"{', '.join(shown.beyond)} is not in the certificate. {OTHER_AUTHORITY}"
    if authority is None:
        if leaf.not_valid_after_utc - now < timedelta(days=OWN_SAID_BEFORE_DAYS):
            return "Put a renewed certificate where TLS_CERT names it. It is loaded by itself."
        return ""
    if address is not None and address not in names:
        return f"{address}, this machine's address, is not in the certificate. Restart the server."
    if authority.not_valid_after_utc - now < timedelta(days=SAID_BEFORE_DAYS):
        return (
            f"The authority ends on {shown_moment(authority.not_valid_after_utc, 'd M Y')}. "
            "Move the folder of "
            "TLS_DIR away and start again, then let every tablet trust the new one."
        )
    return ""
