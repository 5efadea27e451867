"""Turnarounds compared by vessel, point, regime, lot, season and content."""

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request
from brewhygiene.trends.compare.forms import MONTHS, SpanForm
from brewhygiene.trends.compare.grouping import BYS
from brewhygiene.trends.compare.page import ONLY, PARTS, part_of, rows_behind, shown_in


@never_cache
@permission_needed("see_everything")
def compare(request: Request) -> HttpResponse:
    """One part of the comparison over a period that is asked for."""
    form = SpanForm(request.GET, today=timezone.localdate())
    part = request.GET.get("by", "")
    if part not in PARTS:
        raise Http404
    context: dict[str, Any] = {
        "room": "trends",
        "form": form,
        "part": part,
        "parts": PARTS,
        "periods": MONTHS,
    }
    if not form.is_valid():
        return render(request, "trends/compare/compare.html", context, status=422)
    span = form.span()
    shown = shown_in(span)
    context |= {"span": span, "shown": shown, "title": PARTS[part]}
    if shown.facts:
        context |= part_of(part, shown)
    return render(request, "trends/compare/compare.html", context)


@never_cache
@permission_needed("see_everything")
def compare_rows(request: Request) -> HttpResponse:
    """The turnarounds behind one row of the comparison."""
    form = SpanForm(request.GET, today=timezone.localdate())
    by, of = request.GET.get("by", ""), request.GET.get("of", "")
    only = request.GET.get("only", "not-clean")
    if (by not in BYS and by != "point") or only not in ONLY or not form.is_valid():
        raise Http404
    span = form.span()
    behind = rows_behind(shown_in(span), by=by, of=of, only=only)
    if behind is None:
        raise Http404
    context = {
        "room": "trends",
        "span": span,
        "by": by,
        "of": of,
        "only": only,
        "words": ONLY[only],
        "about": f"Turnarounds of {span.words}, the latest first",
        "behind": behind,
        "part": "before" if by == "kind" else by,
    }
    return render(request, "trends/compare/rows.html", context)
