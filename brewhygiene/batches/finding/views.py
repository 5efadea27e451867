"""Find a batch, a yeast crop, a lot or a vessel by its number or name, from anywhere."""

from django.http import HttpResponse
from django.shortcuts import redirect

from brewhygiene.batches.finding.queries import found_by
from brewhygiene.people.form_pages import page
from brewhygiene.people.requests import Request


def find(request: Request) -> HttpResponse:
    """What has a number; one exact hit leads straight to its page."""
    words = request.GET.get("q", "").strip()[:60]
    hits = found_by(words)
    exact = [hit for hit in hits if hit.exact]
    # An old number leads to its list first, which says what it is now.
    if len(exact) == 1 and not exact[0].now:
        return redirect(exact[0].url)
    return page(request, "batches/find.html", room="batches", words=words, hits=hits)
