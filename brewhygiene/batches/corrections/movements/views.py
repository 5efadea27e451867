"""The page that corrects a movement."""

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.batches.corrections.movements.actions import correct_movement
from brewhygiene.batches.corrections.movements.forms import CorrectMovementForm
from brewhygiene.batches.corrections.movements.standing import CORRECTED_KINDS, with_ends
from brewhygiene.batches.corrections.signed import corrections_of, was_seen
from brewhygiene.batches.models.corrections import MovementCorrection
from brewhygiene.batches.models.movements import Movement
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


def _address_of(movement: Movement) -> str:
    """Where a person was before: the page of its lot, its crop or its batch."""
    if movement.to_lot_id is not None:
        return reverse("batches:lot", args=[movement.to_lot_id])
    if movement.from_crop_id is not None:
        return reverse("batches:crop", args=[movement.from_crop_id])
    fill = movement.to_fill or movement.from_fill
    return reverse("batches:batch", args=[fill.of_batch.batch_id])  # type: ignore[union-attr]


@sensitive_post_parameters("password")
@permission_needed("work_cellar")
def correct(request: Request, pk: int) -> HttpResponse:
    """Correct a brewing, a transfer, a packaging or a dump, signed."""
    movement = with_ends().filter(pk=pk, kind__in=CORRECTED_KINDS).first()
    if movement is None:
        raise Http404
    form = CorrectMovementForm(sent(request), brewery=request.brewery, movement=movement)

    def act(by: Actor, password: str) -> MovementCorrection:
        given = form.given
        del given["password"]
        if "loss_hl" in given:
            given["loss_hl"] = given["loss_hl"] or 0
        return correct_movement(by=by, movement=movement, password=password, **given)

    done = submitted(request, form, confirmed(request, form, act), said="Correction is signed.")
    if done is not None:
        return redirect(_address_of(done.movement))
    corrections = corrections_of(movement)
    return page(
        request,
        "batches/forms/correct_signed.html",
        form=form,
        room="batches",
        movement=movement,
        corrected=corrections,
        unseen=not was_seen(form, corrections),
        about="What was recorded first stays readable. Holds follow the correction, and none of "
        "them ends by it.",
        title=f"Correct what was {movement.get_kind_display()}",
        back=_address_of(movement),
    )
