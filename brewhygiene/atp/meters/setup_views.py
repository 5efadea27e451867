"""The set-up of meters and ATP tests."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from brewhygiene.atp.meters import actions as setup_actions
from brewhygiene.atp.meters.drift import check_charts
from brewhygiene.atp.meters.forms import AtpTestForm, AtpTestLotForm, MeterForm
from brewhygiene.atp.meters.queries import atp_tests_with_lots, meters_for_setup
from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, Meter
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


def _saved(record: Meter | AtpTest | AtpTestLot) -> str:
    return f"{record} is saved."


def meters(request: Request) -> HttpResponse:
    every = list(meters_for_setup())
    charts = check_charts([meter for meter in every if meter.active], now=timezone.now())
    drifts = {pk: chart.drifts for pk, chart in charts.items()}
    return page(request, "atp/meters/setup.html", room="setup", meters=every, drifts=drifts)


@permission_needed("edit_setup")
def edit_meter(request: Request, pk: int | None = None) -> HttpResponse:
    """Edit a meter, or add one where none is named."""
    meter = get_object_or_404(Meter, pk=pk) if pk is not None else None
    form = MeterForm(sent(request), instance=meter)
    saved = submitted(
        request,
        form,
        lambda by: setup_actions.save_meter(by=by, values=form.values(), meter=meter),
        said=_saved,
    )
    if saved is not None:
        return redirect("atp:setup_meters")
    charts = check_charts([meter], now=timezone.now()) if meter is not None else {}
    drifts = [drift for chart in charts.values() for drift in chart.drifts]
    return page(
        request, "atp/meters/edit.html", form=form, room="setup", meter=meter, drifts=drifts
    )


def atp_tests(request: Request) -> HttpResponse:
    return page(
        request,
        "atp/meters/tests.html",
        room="setup",
        atp_tests=atp_tests_with_lots(),
        today=timezone.localdate(),
    )


@permission_needed("edit_setup")
def edit_atp_test(request: Request, pk: int | None = None) -> HttpResponse:
    """Edit an ATP test, or add one where none is named."""
    test = get_object_or_404(AtpTest, pk=pk) if pk is not None else None
    form = AtpTestForm(sent(request), instance=test)
    saved = submitted(
        request,
        form,
        lambda by: setup_actions.save_atp_test(by=by, values=form.values(), atp_test=test),
        said=_saved,
    )
    if saved is not None:
        return redirect("atp:setup_atp_tests")
    return page(request, "atp/meters/test_kind.html", form=form, room="setup", atp_test=test)


@permission_needed("edit_setup")
def edit_test_lot(request: Request, pk: int | None = None) -> HttpResponse:
    """Edit a lot, or add one, of the ATP test that the address names, where none is named."""
    lot = get_object_or_404(AtpTestLot, pk=pk) if pk is not None else None
    # What a scanned box said is filled in already.
    asked = {"atp_test": "type", "lot": "lot", "expires_on": "expires_on"}
    initial = {name: request.GET.get(key, "") for name, key in asked.items()}
    form = AtpTestLotForm(sent(request), instance=lot, initial=initial)
    saved = submitted(
        request,
        form,
        lambda by: setup_actions.save_test_lot(by=by, values=form.values(), test_lot=lot),
        said=_saved,
    )
    if saved is not None:
        if saved.expires_on < timezone.localdate():
            messages.warning(request, f"{saved} is out of date, so no sample can be taken with it.")
        return redirect("atp:setup_atp_tests")
    return page(request, "atp/meters/test_lot.html", form=form, room="setup", test_lot=lot)
