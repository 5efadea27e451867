"""The cellar board, a vessel's page, a turnaround's page."""

from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.cache import never_cache

from brewhygiene.archive.notice import stale_words
from brewhygiene.atp.causes.queries import found_causes
from brewhygiene.batches.brews.queries import contents_of
from brewhygiene.batches.holds import holds_of_contents
from brewhygiene.board.cards import board_of, card_of
from brewhygiene.board.handovers.queries import unread
from brewhygiene.board.held import held_about
from brewhygiene.board.history import (
    fills_for_history,
    past_of,
    plates_for_history,
    points_with_last_result,
    turnarounds_for_history,
)
from brewhygiene.board.look import Look
from brewhygiene.board.next_step import NEEDED, address
from brewhygiene.board.queries import vessels_for_board
from brewhygiene.board.timeline import cause_expected, timeline_of
from brewhygiene.board.waiting import vessels_to_sample, waiting_for
from brewhygiene.board.wall import wall_page
from brewhygiene.delivery.arrivals import unverified
from brewhygiene.people.permissions import held_permissions, permission_needed
from brewhygiene.people.requests import Request
from brewhygiene.quantities.days import read_stamp
from brewhygiene.regimes.cautions import ENTERED_VESSELS
from brewhygiene.release.polling import Seen
from brewhygiene.release.queries import load_dossier, states_of
from brewhygiene.release.status import Code
from brewhygiene.turnarounds.advice.flow_need import flow_of
from brewhygiene.turnarounds.cost.report import turnaround_cost
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.queries import last_flow_reading, permits_of

TURNAROUNDS_A_PAGE = 10
FILLS_SHOWN = 6
PLATES_SHOWN = 6
ANYBODY = frozenset(NEEDED.values()).__contains__
NOT_TO_BE_CLEANED = frozenset({Code.CLEANING, Code.OUT_OF_SERVICE})


def board(request: Request) -> HttpResponse:
    """The board; asked again by its own page, only what is new, or 204 where nothing is."""
    seen = Seen.from_text(request.GET.get("seen", "")) if request.htmx else None
    look = Look.asked(request.GET)
    # A wall is for whoever stands before it.
    may = ANYBODY if look.wall else held_permissions(request.user).__contains__
    shown = board_of(look, may=may, now=timezone.now(), seen=seen)
    if seen is None:
        template = "board/wall.html" if look.wall else "board/board.html"
    elif seen.digest == shown.seen.digest:
        return HttpResponse(status=204)
    else:
        template = "board/_follow.html"
    context: dict[str, Any] = {
        "room": "board",
        "board": shown,
        "wall": wall_page(shown.groups, look.page) if look.wall else None,
        "moved": seen is not None and seen.letters != shown.seen.letters,
    }
    if not look.wall and seen is None:
        context["handover"] = unread(request.user, may=may, now=shown.now)  # type: ignore[arg-type]
    if not look.wall and may("see_everything"):
        context["backup_is_stale"] = stale_words(timezone.now())
    response = render(request, template, context)
    patch_vary_headers(response, ["HX-Request"])
    return response


def vessel(request: Request, pk: int) -> HttpResponse:
    """One vessel: its status, the turnaround that is on, its points, its past."""
    now = timezone.now()
    state = next(iter(states_of(vessels_for_board().filter(pk=pk), now=now)), None)
    if state is None:
        raise Http404
    found = state.vessel
    flow_read = last_flow_reading(found)
    pages = Paginator(turnarounds_for_history(found), TURNAROUNDS_A_PAGE)
    page = pages.get_page(request.GET.get("page"))
    fills = list(fills_for_history(found)[:FILLS_SHOWN])
    return render(
        request,
        "board/vessel.html",
        {
            "room": "board",
            "vessel": found,
            "state": state,
            "card": card_of(state, may=held_permissions(request.user).__contains__, now=now),
            "points": points_with_last_result(found),
            "flow_read": flow_read,
            "flow": flow_of(found, flow_read, brewery=request.brewery),  # type: ignore[attr-defined]
            "page": page,
            "history": [past_of(turnaround) for turnaround in page],
            "fills": fills,
            "now_in_it": fills[0] if fills and state.turnaround is None else None,
            "holds": holds_of_contents(fills),
            "plates": plates_for_history(found)[:PLATES_SHOWN],
        },
    )


def turnaround(request: Request, pk: int) -> HttpResponse:
    """One turnaround: the one next thing to do, and what was done so far."""
    now = timezone.now()
    found = get_object_or_404(Turnaround, pk=pk)
    dossier = load_dossier(found, now=now)
    card = None
    cleanable = False
    if dossier.status is not None:
        (state,) = states_of(vessels_for_board().filter(pk=found.vessel_id), now=now)
        card = card_of(state, may=held_permissions(request.user).__contains__, now=now)
        # Where the next thing is another, the vessel may be cleaned all the same.
        regime = address("turnarounds:regime", found.pk)
        cleanable = card.next.url != regime and card.code not in NOT_TO_BE_CLEANED
    return render(
        request,
        "board/turnaround.html",
        {
            "room": "board",
            "dossier": dossier,
            "turnaround": dossier.turnaround,
            "vessel": dossier.turnaround.vessel,
            "card": card,
            "cleanable": cleanable,
            "cost": turnaround_cost(dossier.cleans, brewery=request.brewery, now=now),  # type: ignore[attr-defined]
            "events": timeline_of(
                dossier,
                causes=found_causes(dossier.turnaround),
                permits=permits_of(dossier.turnaround),
            ),
            "enterable": card is not None
            and card.code not in NOT_TO_BE_CLEANED
            and dossier.turnaround.vessel.kind in ENTERED_VESSELS,
            "cause_expected": cause_expected(dossier),
            "batch": contents_of(found.closing_fill)[0],
        },
    )


def to_sample(request: Request) -> HttpResponse:
    """Every vessel that has points to be sampled. For anyone to look at."""
    now = timezone.now()
    rows = vessels_to_sample(may=held_permissions(request.user).__contains__, now=now)
    return render(request, "board/to_sample.html", {"room": "sample", "rows": rows})


@never_cache
@permission_needed("work_cellar")
def held(request: Request) -> HttpResponse:
    """What the server has about a form that a tablet still has; answered for a script."""
    typed_at = read_stamp(request.GET.get("typed_at", "")) or timezone.now()
    found = held_about(request.GET.get("about", ""), typed_at=typed_at)
    facts = [{"words": one.words, "since": one.since.isoformat()} for one in found.facts]
    return JsonResponse({"facts": facts, "may_be_late": found.may_be_late})


@never_cache
def waiting(request: Request) -> HttpResponse:
    """The numbers beside the places, asked for by every page once it is there."""
    waits = waiting_for(may=held_permissions(request.user).__contains__, now=timezone.now())
    to_confirm = unverified().filter(person=request.user.pk).count()
    return render(request, "board/_waiting.html", {"waits": waits, "to_confirm": to_confirm})
