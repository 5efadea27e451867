"""The monthly hygiene report, as PDF."""

import zoneinfo
from datetime import datetime

from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from brewhygiene.brewery.models import Brewery
from brewhygiene.drawing.figure import Figure
from brewhygiene.drawing.svg import svg_of, swatch
from brewhygiene.quantities.style import written_in
from brewhygiene.quantities.units import LABELS
from brewhygiene.reports.heads import printed_head
from brewhygiene.reports.month.build import month_report
from brewhygiene.reports.month.figures import chart_keys, vessel_figure
from brewhygiene.reports.pdf.paper import pdf_of, zone_words
from brewhygiene.trends.overview.queries import trend_figure
from brewhygiene.trends.turns.periods import Period

# CSS px: the width of the page's text, and of a third of it less the gaps.
PAGE_PX = 656
THIRD_PX = 211


def month_name(period: Period) -> str:
    """A file name that sorts by month."""
    return f"hygiene-report-{period.code}.pdf"


def _drawn(figure: Figure | None, width_px: float) -> SafeString:
    if figure is None:
        return SafeString()
    # Drawn by our own code, which escapes every word.
    return mark_safe(svg_of(figure, paper=True, width_px=width_px, key=False))  # noqa: S308


def month_html(period: Period, *, brewery: Brewery, now: datetime) -> str:
    """The report as a page, in the brewery's own time and style, whoever prints it."""
    zone = zoneinfo.ZoneInfo(brewery.time_zone)
    with timezone.override(zone), written_in(brewery.style):
        report = month_report(period, brewery=brewery, now=now)
        return render_to_string(
            "reports/month/month.html",
            {
                "report": report,
                "head": printed_head(way=f"month {period.code}", now=now),
                "brewery": brewery,
                "reading": " ".join(report.sentences),
                "zone": zone_words(now.astimezone(zone)),
                "trend": _drawn(trend_figure(report.months, height_px=190), PAGE_PX),
                "per": LABELS[brewery.volume_unit],
                "keys": [
                    (mark_safe(swatch(mark, paper=True)), mark.name)  # noqa: S308
                    for mark in chart_keys()
                ],
                "charts": [
                    (line.vessel, _drawn(vessel_figure(line, period), THIRD_PX))
                    for line in report.vessels
                    if line.charted
                ],
            },
        )


def month_pdf(period: Period, *, brewery: Brewery, now: datetime) -> bytes:
    """The report as PDF, on A4 with margins that fit Letter too."""
    html = month_html(period, brewery=brewery, now=now)
    return pdf_of(html, styles=["paper/sheet.css", "paper/month.css"])
