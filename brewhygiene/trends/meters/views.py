"""A meter's control checks over time. For anyone to look at."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewhygiene.atp.meters.drift import check_charts
from brewhygiene.atp.models.meters import Meter
from brewhygiene.people.requests import Request
from brewhygiene.trends.meters.figures import check_figure


@never_cache
def meter(request: Request, pk: int) -> HttpResponse:
    found = get_object_or_404(Meter, pk=pk)
    charts = check_charts([found], now=timezone.now())[found.pk]
    context = {
        "room": "atp",
        "meter": found,
        "charts": charts,
        "figure": check_figure(found, charts),
        "sides": [("Positive control", charts.positive), ("Blank", charts.blank)],
    }
    return render(request, "trends/meters/meter.html", context)
