"""Pages that correct a batch or a lot."""

from collections.abc import Callable

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from brewhygiene.batches.corrections import actions
from brewhygiene.batches.corrections.forms import CorrectBatchForm, CorrectLotForm
from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.corrections import BrewCorrection
from brewhygiene.batches.models.lots import Lot
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


def _corrected(
    request: Request,
    form: ActionForm,
    act: Callable[[Actor], BrewCorrection],
    *,
    what: str,
    back: str,
) -> HttpResponse:
    """The page of a correction, and back to what it is of."""
    said = f"{what[0].upper()}{what[1:]} corrected"
    if submitted(request, form, act, said=lambda done: f"{said} to {done.is_number}."):
        return redirect(back)
    return page(
        request,
        "batches/forms/correct.html",
        form=form,
        room="batches",
        title=f"Correct {what}",
        back=back,
    )


@permission_needed("work_cellar")
def correct_batch(request: Request, pk: int) -> HttpResponse:
    """Correct a mistyped batch number."""
    batch = get_object_or_404(Batch, pk=pk)
    form = CorrectBatchForm(
        sent(request), brewery=request.brewery, initial={"number": batch.number}
    )
    return _corrected(
        request,
        form,
        lambda by: actions.correct_batch(by=by, batch=batch, **form.given),
        what=f"batch {batch.number}",
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
    return _corrected(
        request,
        form,
        lambda by: actions.correct_lot(by=by, lot=lot, **form.given),
        what=f"lot {lot.number}",
        back=reverse("batches:lot", args=[pk]),
    )
