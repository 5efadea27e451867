"""The monthly report, for those who see everything."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request
from brewhygiene.reports.month.pdf import month_name, month_pdf
from brewhygiene.reports.pdf.response import pdf_response
from brewhygiene.trends.turns.periods import NoSuchPeriod, month_asked


@require_safe
@permission_needed("see_everything")
def month(request: Request, month: str) -> HttpResponse:
    """The report of one month; of the present one, so far."""
    now = timezone.now()
    try:
        period = month_asked(month, now=now)
    except NoSuchPeriod as refused:
        context = {"room": "trends", "message": str(refused)}
        return render(request, "reports/month/no_month.html", context, status=404)
    content = month_pdf(period, brewery=request.brewery, now=now)
    return pdf_response(content, name=month_name(period))
