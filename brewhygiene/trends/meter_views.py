"""A meter's control checks over time. For anyone to look at."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewhygiene.atp.meter_drift import check_charts
from brewhygiene.atp.models import Meter
from brewhygiene.trends.meter_figures import check_figure


@never_cache
def meter(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Meter, pk=pk)
    charts = check_charts([found], now=timezone.now())[found.pk]
    context = {
        "room": "atp",
        "meter": found,
        "charts": charts,
        "figure": check_figure(found, charts),
        "sides": [("Positive control", charts.positive), ("Blank", charts.blank)],
    }
    return render(request, "trends/meter.html", context)
