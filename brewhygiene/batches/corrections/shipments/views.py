"""The page that corrects a shipment."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.batches.corrections.shipments.actions import correct_shipment
from brewhygiene.batches.corrections.shipments.forms import CorrectShipmentForm
from brewhygiene.batches.corrections.signed import corrections_of, was_seen
from brewhygiene.batches.models.corrections import ShipmentCorrection
from brewhygiene.batches.models.lots import Customer, Shipment
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


@sensitive_post_parameters("password")
@permission_needed("work_cellar")
def correct(request: Request, pk: int) -> HttpResponse:
    """Correct what was shipped, signed."""
    shipment = get_object_or_404(Shipment.objects.select_related("lot", "customer"), pk=pk)
    form = CorrectShipmentForm(sent(request), shipment=shipment)

    def act(by: Actor, password: str) -> ShipmentCorrection:
        given = form.given
        del given["password"]
        return correct_shipment(by=by, shipment=shipment, password=password, **given)

    done = submitted(request, form, confirmed(request, form, act), said="Correction is signed.")
    if done is not None:
        return redirect("batches:lot", done.shipment.lot_id)
    corrections = corrections_of(shipment)
    return page(
        request,
        "batches/forms/correct_signed.html",
        form=form,
        room="batches",
        about="What was recorded first stays readable. A recall goes by the correction.",
        title=f"Correct shipment of lot {shipment.lot.number}",
        corrected=corrections,
        unseen=not was_seen(form, corrections),
        customers=Customer.objects.values_list("name", flat=True),
        back=reverse("batches:lot", args=[shipment.lot_id]),
    )
