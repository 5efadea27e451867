"""The release record of a turnaround, as PDF."""

from datetime import datetime

from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.text import slugify

from brewhygiene.quantities.style import written_in
from brewhygiene.reports.pdf.codes import qr_svg
from brewhygiene.reports.pdf.paper import pdf_of, zone_words
from brewhygiene.reports.record.build import contents_of
from brewhygiene.turnarounds.models import Turnaround


def record_name(turnaround: Turnaround) -> str:
    """A file name that can be told from others in a folder. ``turnaround`` with its vessel."""
    vessel = slugify(turnaround.vessel.name) or "vessel"
    return f"release-record-{vessel}-turnaround-{turnaround.pk}.pdf"


def record_html(turnaround: Turnaround, *, now: datetime) -> str:
    """The record as a page, in the brewery's own time and style, whoever prints it."""
    record = contents_of(turnaround, now=now)
    vessel, digest = record.turnaround.vessel, record.dossier.record_hash
    with timezone.override(record.zone), written_in(record.brewery.style):
        return render_to_string(
            "reports/record/record.html",
            {
                "record": record,
                "brewery": record.brewery,
                "dossier": record.dossier,
                "turnaround": record.turnaround,
                "vessel": vessel,
                "title": f"Release record · {vessel.name} · turnaround {turnaround.pk}",
                "foot": f"Record hash {f'{digest[:16]}…' if digest else 'none'} ·",
                "zone": zone_words(now.astimezone(record.zone)),
                "qr": qr_svg(code_text(turnaround, digest)),
            },
        )


def code_text(turnaround: Turnaround, record_hash: str) -> str:
    """What the QR code says, so that a copy can be held against the system."""
    return f"turnaround {turnaround.pk} sha256 {record_hash or 'none'}"


def record_pdf(turnaround: Turnaround, *, now: datetime) -> bytes:
    """The record as PDF, on A4 with margins that fit Letter too."""
    return pdf_of(record_html(turnaround, now=now), styles=["paper/sheet.css", "paper/record.css"])
