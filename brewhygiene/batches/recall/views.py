"""Recall drills: begin one, follow the lot both ways, end it with what was counted."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_POST

from brewhygiene.batches.brews.balance import balance_of
from brewhygiene.batches.lots.actions import units_shipped
from brewhygiene.batches.models.lots import Lot, RecallDrill
from brewhygiene.batches.recall import actions
from brewhygiene.batches.recall.forms import EndForm
from brewhygiene.batches.recall.ways import both_ways
from brewhygiene.people.form_pages import button, page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.quantities.words import span_words


@require_POST
@permission_needed("decide_release")
def begin(request: Request, pk: int) -> HttpResponse:
    """Begin a drill of a lot."""
    lot = get_object_or_404(Lot, pk=pk)
    return button(
        request,
        lambda by: actions.begin_drill(by=by, lot=lot),
        said="The drill has begun. Its time is running.",
        to="batches:lot",
        args=(lot.pk,),
    )


def _volumes(found: RecallDrill) -> dict[str, float] | None:
    """The volumes of its batch: as they stand, or as they were when it ended. 2 queries, or none.

    A drill that ended before dumps were on record kept none.
    """
    if found.ended_at is None:
        return balance_of(found.lot.batch).parts
    return (found.found or {}).get("volumes")


def drill(request: Request, pk: int) -> HttpResponse:
    """A drill: both ways of its lot, the volumes, and how long it took."""
    found = get_object_or_404(
        RecallDrill.objects.select_related("lot__batch__beer", "started_by", "ended_by"), pk=pk
    )
    form = EndForm(sent(request))
    ended = submitted(
        request,
        form,
        lambda by: actions.end_drill(by=by, drill=found, **form.given),
        said="The drill has ended.",
    )
    if ended is not None:
        found, form = ended, EndForm()
    running = found.ended_at is None
    return page(
        request,
        "batches/drill.html",
        form=form,
        room="batches",
        drill=found,
        lot=found.lot,
        running=running,
        ways=both_ways(found.lot) if running else found.found,
        shipped=units_shipped(found.lot),
        volumes=_volumes(found),
        took=span_words((found.ended_at or timezone.now()) - found.started_at),
    )
