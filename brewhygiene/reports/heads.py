"""The ledger's head, as it stands on paper."""

import dataclasses
from datetime import datetime

from django.utils.safestring import SafeString

from brewhygiene.ledger.heads.head import SignedHead, kept_head, make_head
from brewhygiene.ledger.heads.key import NoKey
from brewhygiene.ledger.heads.outside import outside_since
from brewhygiene.ledger.models import Head
from brewhygiene.reports.pdf.codes import qr_svg


@dataclasses.dataclass(frozen=True)
class PrintedHead:
    """A head with its code, and the first ever given out; a problem where there is none."""

    head: SignedHead | None
    since: Head | None
    problem: str = ""

    @property
    def lines(self) -> list[str]:
        return self.head.whole_text.splitlines() if self.head else []

    @property
    def code(self) -> SafeString:
        """The whole head as a QR code, to be photographed."""
        return qr_svg(self.head.whole_text, error="l", light="#fff") if self.head else SafeString()


def printed_head(*, way: str, now: datetime) -> PrintedHead:
    """The head of the ledger as it ends now, noted as given out on ``way``. 4 queries or 5."""
    try:
        head = kept_head(make_head(way=way, now=now))
    except NoKey as error:
        return PrintedHead(None, outside_since(), str(error))
    return PrintedHead(head, outside_since())
