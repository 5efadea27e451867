"""Pages of the ledger. Each needs to see everything."""

import json
import zoneinfo

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.binding import ADOPTED
from brewhygiene.ledger.export import exported
from brewhygiene.ledger.heads.head import make_head
from brewhygiene.ledger.heads.key import NoKey
from brewhygiene.ledger.heads.outside import outside_since
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.people.permissions import permission_needed
from brewhygiene.proof.forms import FilterForm
from brewhygiene.reports.heads import printed_head
from brewhygiene.reports.record.build import contents_of
from brewhygiene.turnarounds.models import Turnaround

PAGE = 100
# No number of an entry has more digits than the database's own.
LARGEST = 2**63 - 1


@require_safe
@permission_needed("see_everything")
def entries(request: HttpRequest) -> HttpResponse:
    """Who did what, when and from where, the newest first. 8 queries, however many entries."""
    form = FilterForm(
        request.GET or None,
        people=list(User.objects.order_by("full_name", "username")),
        actions=list(Entry.objects.order_by("verb").values_list("verb", flat=True).distinct()),
    )
    zone = zoneinfo.ZoneInfo(Brewery.current().time_zone)
    page = Paginator(form.chosen(zone), PAGE).get_page(request.GET.get("page"))
    asked = request.GET.copy()
    asked.pop("page", None)
    context = {
        "room": "setup",
        "form": form,
        "page": page,
        "asked": asked.urlencode(),
        "since": outside_since(),
        "adopted": Entry.objects.filter(verb=ADOPTED).order_by("-number").first(),
    }
    return render(request, "proof/entries.html", context)


@require_safe
@permission_needed("see_everything")
def entry(request: HttpRequest, number: int) -> HttpResponse:
    """One entry, with its values and the rows that it binds."""
    found = get_object_or_404(
        Entry.objects.select_related("user"), number=number if number <= LARGEST else 0
    )
    context = {
        "room": "setup",
        "entry": found,
        "values": json.dumps(found.values, indent=2, ensure_ascii=False, sort_keys=True),
        "bindings": found.bindings.order_by("id")[:PAGE],
        "more": max(0, found.row_count - PAGE),
    }
    return render(request, "proof/entry.html", context)


@require_safe
@permission_needed("see_everything")
def head(request: HttpRequest) -> HttpResponse:
    """The signed head of the ledger as it ends now, to be photographed."""
    context = {"room": "setup", "head": printed_head(way="page", now=timezone.now())}
    return render(request, "proof/head.html", context)


@require_safe
@permission_needed("see_everything")
def record(request: HttpRequest, pk: int) -> HttpResponse:
    """A turnaround's record that proves itself, as a file."""
    turnaround = get_object_or_404(
        Turnaround.objects.select_related("vessel"), pk=pk if pk <= LARGEST else 0
    )
    now = timezone.now()
    try:
        contents = contents_of(turnaround, now=now)
        content = exported(contents.shown, contents.entries, make_head(way=f"export {pk}", now=now))
    except NoKey as error:
        return render(request, "proof/no_key.html", {"room": "setup", "problem": error}, status=503)
    return HttpResponse(
        json.dumps(content, ensure_ascii=False, indent=1),
        content_type="application/json",
        headers={
            "Content-Disposition": f'attachment; filename="record-turnaround-{pk}.json"',
            "Cache-Control": "private, no-store",
        },
    )
