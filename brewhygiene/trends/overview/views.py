"""The overview of trends, and the rows behind its figures."""

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from brewhygiene.people.requests import Request
from brewhygiene.trends.overview.cards import cards_of
from brewhygiene.trends.overview.queries import overview_of, trend_figure
from brewhygiene.trends.overview.rows import OF_NOW, WHATS, rows_of
from brewhygiene.trends.turns.cleaning_cost import has_prices
from brewhygiene.trends.turns.periods import DAYS, NoSuchPeriod, Period, months_until, period_asked

ROWS_A_PAGE = 50
MONTHS_LISTED = 12


def _asked(request: Request) -> Period:
    try:
        return period_asked(request.GET.get("in", ""), now=timezone.now())
    except NoSuchPeriod as refused:
        raise Http404(str(refused)) from refused


@require_safe
def overview(request: Request) -> HttpResponse:
    """One screen of figures for a period."""
    now = timezone.now()
    brewery = request.brewery
    shown = overview_of(_asked(request), brewery=brewery, now=now)
    return render(
        request,
        "trends/overview/overview.html",
        {
            "room": "trends",
            "shown": shown,
            "cards": cards_of(shown, priced=has_prices(brewery)),
            "trend": trend_figure(shown.months),
            "periods": [(code, f"{words[4:5].upper()}{words[5:]}") for code, words in DAYS.items()],
            "months": list(reversed(months_until(now, MONTHS_LISTED))),
        },
    )


@require_safe
def rows(request: Request, what: str) -> HttpResponse:
    """The rows that a figure counts."""
    if what not in WHATS:
        raise Http404("No figure counts these rows.")
    asked = _asked(request)
    found = rows_of(what, asked, now=timezone.now())
    page = Paginator(found.every, ROWS_A_PAGE).get_page(request.GET.get("page"))
    period = None if what in OF_NOW else asked
    context = {
        "room": "trends",
        "found": found,
        "page": page,
        "period": period,
        "about": found.about(page.paginator.count, period),
    }
    return render(request, "trends/overview/rows.html", context)
