"""Record a batch, pitch it, hold it by hand."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from brewhygiene.batches.brews import actions
from brewhygiene.batches.brews.forms import BatchForm, PitchForm
from brewhygiene.batches.holds import open_holds
from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.movements import Movement
from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent

CROPS_OFFERED = 50


@permission_needed("work_cellar")
def record(request: Request) -> HttpResponse:
    """Record a batch before it is in a vessel."""
    form = BatchForm(sent(request), brewery=request.brewery)
    batch: Batch | None = submitted(
        request,
        form,
        lambda by: actions.record_batch(by=by, **form.given),
        said=lambda made: f"Batch {made.number} is recorded.",
    )
    if batch is not None:
        return redirect("batches:batch", batch.pk)
    return page(request, "batches/forms/record.html", form=form, room="batches")


@permission_needed("work_cellar")
def pitch(request: Request, pk: int) -> HttpResponse:
    """Pitch a crop into what a vessel contains."""
    vessel = get_object_or_404(Vessel, pk=pk)
    newest = YeastCrop.objects.order_by("-cropped_at", "-pk").values("pk")[:CROPS_OFFERED]
    held = frozenset(open_holds().filter(crop__isnull=False).values_list("crop_id", flat=True))
    form = PitchForm(
        sent(request),
        brewery=request.brewery,
        crops=YeastCrop.objects.filter(pk__in=newest),
        held=held,
    )

    def act(by: Actor) -> Movement:
        given = form.cleaned_data
        litres = given["volume_l"]
        return actions.pitch(
            by=by,
            vessel=vessel,
            crop=given["crop"],
            pitched_at=given["pitched_at"] or by.now,
            volume_hl=None if litres is None else litres / 100,
            through=tuple(given["through"]),
        )

    if submitted(request, form, act, said=f"Pitching of {vessel.name} is recorded."):
        return redirect("board:vessel", vessel.pk)
    return page(
        request,
        "batches/forms/of_vessel.html",
        form=form,
        room="board",
        vessel=vessel,
        title=f"Pitching of {vessel.name}",
        here="Pitching",
        do="Record pitching",
    )
