"""Package a lot, ship it."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from brewhygiene.batches.lots import actions
from brewhygiene.batches.lots.forms import PackageForm, ShipForm
from brewhygiene.batches.models.lots import Customer, Lot
from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


@permission_needed("work_cellar")
def package(request: Request, pk: int) -> HttpResponse:
    """Package what a vessel contains."""
    vessel = get_object_or_404(Vessel, pk=pk)
    form = PackageForm(sent(request), brewery=request.brewery, vessel=vessel)

    def act(by: Actor) -> Lot:
        given = form.given
        given["packaged_at"] = given["packaged_at"] or by.now
        given["loss_hl"] = given["loss_hl"] or 0
        return actions.package(by=by, vessel=vessel, **given)

    lot = submitted(request, form, act, said=lambda made: f"Lot {made.number} is recorded.")
    if lot is not None:
        return redirect("batches:lot", lot.pk)
    return page(
        request,
        "batches/forms/of_vessel.html",
        form=form,
        room="board",
        vessel=vessel,
        title=f"Packaging of {vessel.name}",
        here="Packaging",
        do="Record packaging",
    )


@permission_needed("work_cellar")
def ship(request: Request, pk: int) -> HttpResponse:
    """Ship units of a lot to a customer."""
    lot = get_object_or_404(Lot.objects.select_related("batch__beer"), pk=pk)
    form = ShipForm(sent(request))
    if submitted(
        request,
        form,
        lambda by: actions.ship(by=by, lot=lot, **form.given),
        said=lambda made: f"{made.units} units of lot {lot.number} to {made.customer}.",
    ):
        return redirect("batches:lot", lot.pk)
    return page(
        request,
        "batches/forms/ship.html",
        form=form,
        room="batches",
        lot=lot,
        left=lot.units - actions.units_shipped(lot),
        customers=Customer.objects.values_list("name", flat=True),
    )
