"""How often times are stated."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from brewhygiene.people.requests import Request
from brewhygiene.trends.stated.shares import ENOUGH, LOOKS_BACK, shares_since


def stated(request: Request) -> HttpResponse:
    """The share of stated times by person and by kind of step, so that it is no habit."""
    return render(
        request,
        "trends/stated/stated.html",
        {
            "room": "trends",
            "shares": shares_since(timezone.now() - LOOKS_BACK),
            "days": LOOKS_BACK.days,
            "enough": ENOUGH,
        },
    )
