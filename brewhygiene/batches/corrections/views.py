"""Pages that correct a batch or a lot."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from brewhygiene.batches.corrections import actions
from brewhygiene.batches.corrections.forms import CorrectBatchForm, CorrectLotForm
from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.lots import Lot
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


@permission_needed("work_cellar")
def correct_batch(request: Request, pk: int) -> HttpResponse:
    """Correct a mistyped batch number."""
    batch = get_object_or_404(Batch, pk=pk)
    form = CorrectBatchForm(
        sent(request), brewery=request.brewery, initial={"number": batch.number}
    )
    corrected = submitted(
        request,
        form,
        lambda by: actions.correct_batch(by=by, batch=batch, **form.given),
        said=lambda done: f"Batch {done.was_number} corrected to {done.is_number}.",
    )
    if corrected is not None:
        return redirect("batches:batch", pk)
    return page(
        request,
        "batches/forms/correct.html",
        form=form,
        room="batches",
        title=f"Correct batch {batch.number}",
        back=reverse("batches:batch", args=[pk]),
    )


@permission_needed("work_cellar")
def correct_lot(request: Request, pk: int) -> HttpResponse:
    """Correct the number and the volume of a lot."""
    lot = get_object_or_404(Lot, pk=pk)
    form = CorrectLotForm(
        sent(request),
        brewery=request.brewery,
        initial={"number": lot.number, "units": lot.units, "unit_l": lot.unit_l},
    )
    corrected = submitted(
        request,
        form,
        lambda by: actions.correct_lot(by=by, lot=lot, **form.given),
        said=lambda done: f"Lot {done.is_number} corrected.",
    )
    if corrected is not None:
        return redirect("batches:lot", pk)
    return page(
        request,
        "batches/forms/correct.html",
        form=form,
        room="batches",
        title=f"Correct lot {lot.number}",
        back=reverse("batches:lot", args=[pk]),
    )
