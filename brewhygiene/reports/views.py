"""Pages of paper: the release record and the labels."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from brewhygiene.cellar.models import Vessel
from brewhygiene.turnarounds.models import Turnaround


def _pdf(content: bytes, *, name: str) -> HttpResponse:
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )


def record(request: HttpRequest, pk: int) -> HttpResponse:
    """The release record of a turnaround."""
    turnaround = get_object_or_404(Turnaround.objects.select_related("vessel"), pk=pk)
    from brewhygiene.reports.record import record_pdf

    return _pdf(record_pdf(turnaround), name=f"turnaround-{turnaround.pk}.pdf")


def labels(request: HttpRequest, pk: int) -> HttpResponse:
    """Labels for the sampling points of one vessel."""
    vessel = get_object_or_404(Vessel, pk=pk)
    from brewhygiene.reports.labels import labels_pdf

    return _pdf(labels_pdf(Vessel.objects.filter(pk=vessel.pk)), name=f"labels-{vessel.pk}.pdf")


def all_labels(request: HttpRequest) -> HttpResponse:
    """Labels for the sampling points of every vessel."""
    from brewhygiene.reports.labels import labels_pdf

    return _pdf(labels_pdf(Vessel.objects.all()), name="labels.pdf")
