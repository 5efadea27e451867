"""Labels for sampling points: what hangs at the tank and is scanned."""

import dataclasses
import zoneinfo
from datetime import datetime
from urllib.parse import urljoin, urlsplit

from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString
from django.utils.text import slugify

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.quantities.style import written_in
from brewhygiene.reports.pdf.codes import qr_svg
from brewhygiene.reports.pdf.paper import pdf_of, zone_words

LOOPBACK_HOSTS = frozenset({"localhost", "127.0.0.1", "::1"})


@dataclasses.dataclass(frozen=True)
class Label:
    """One label. ``address`` is what its QR code says and what is printed below it."""

    vessel: str
    point: SamplingPoint
    address: str
    qr: SafeString

    @property
    def size(self) -> str:
        """How large its names may be set, so that both fit above the code: a style's name."""
        if len(self.vessel) > 24 or len(self.point.name) > 40:
            return "tiny"
        return "small" if len(self.vessel) > 12 or len(self.point.name) > 21 else "large"

    @property
    def shown_address(self) -> str:
        return self.address.partition("://")[2]


def labels_of(vessels: QuerySet[Vessel], *, base: str) -> list[Label]:
    """Labels of every point in use, in the order of the board. 1 query.

    ``base`` is the address that the brewery has settled on, however the printing page was reached.
    """
    points = (
        SamplingPoint.objects.filter(vessel__in=vessels.values("pk"), active=True)
        .select_related("vessel")
        .order_by("vessel__order", "vessel__sort_key", "order", "pk")
    )
    labels = []
    for point in points:
        address = urljoin(base, reverse("atp:point", args=[point.code]))
        labels.append(
            Label(
                vessel=point.vessel.name,
                point=point,
                address=address,
                # A quarter of it may be scratched or splashed away.
                qr=qr_svg(address, error="q"),
            )
        )
    return labels


def opens_only_here(base: str) -> bool:
    """Whether an address means this machine to itself, and nothing to a tablet."""
    return urlsplit(base).hostname in LOOPBACK_HOSTS


def labels_name(vessel: Vessel | None) -> str:
    return f"labels-{slugify(vessel.name) or vessel.pk}.pdf" if vessel else "labels.pdf"


def labels_pdf(vessels: QuerySet[Vessel], *, base: str, now: datetime) -> bytes:
    """A sheet of labels to cut out and laminate. 2 queries."""
    brewery = Brewery.current()
    zone = zoneinfo.ZoneInfo(brewery.time_zone)
    with timezone.override(zone), written_in(brewery.style):
        html = render_to_string(
            "reports/labels/labels.html",
            {
                "labels": labels_of(vessels, base=base),
                "brewery": brewery,
                "base": base,
                "opens_only_here": opens_only_here(base),
                "now": now,
                "zone": zone_words(now.astimezone(zone)),
            },
        )
    return pdf_of(html, styles=["paper/sheet.css", "paper/labels.css"])
