"""Printed documents: the release record and the labels. Every signed-in person may print them."""

from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_safe

from brewhygiene.cellar.models import Vessel
from brewhygiene.certificates.addresses import preset_address
from brewhygiene.people.requests import Request
from brewhygiene.reports.labels import labels_name, labels_pdf
from brewhygiene.reports.pdf.response import pdf_response
from brewhygiene.reports.record.pdf import record_name, record_pdf
from brewhygiene.turnarounds.models import Turnaround


@require_safe
def record(request: Request, pk: int) -> HttpResponse:
    """The release record of a turnaround."""
    turnaround = get_object_or_404(Turnaround.objects.select_related("vessel"), pk=pk)
    return pdf_response(record_pdf(turnaround, now=timezone.now()), name=record_name(turnaround))


@require_safe
def labels(request: Request, pk: int) -> HttpResponse:
    """Labels for the sampling points of one vessel."""
    vessel = get_object_or_404(Vessel, pk=pk)
    return _labels(request, Vessel.objects.filter(pk=pk), vessel)


@require_safe
def all_labels(request: Request) -> HttpResponse:
    """Labels for the sampling points of every vessel."""
    return _labels(request, Vessel.objects.all(), None)


def _labels(request: Request, vessels: QuerySet[Vessel], vessel: Vessel | None) -> HttpResponse:
    base = request.brewery.label_address or preset_address()
    content = labels_pdf(vessels, base=base, now=timezone.now())
    return pdf_response(content, name=labels_name(vessel))
