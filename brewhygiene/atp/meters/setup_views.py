"""The set-up of meters and sticks."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from brewhygiene.atp.meters import actions as setup_actions
from brewhygiene.atp.meters.drift import check_charts
from brewhygiene.atp.meters.forms import AtpTestForm, AtpTestLotForm, MeterForm
from brewhygiene.atp.meters.queries import atp_tests_with_lots, meters_for_setup
from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, Meter
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, sent


def meters(request: Request) -> HttpResponse:
    every = list(meters_for_setup())
    charts = check_charts([meter for meter in every if meter.active], now=timezone.now())
    context = {
        "room": "setup",
        "meters": every,
        "drifts": {pk: chart.drifts for pk, chart in charts.items()},
    }
    return render(request, "atp/meters/setup.html", context)


def _save_meter(request: Request, *, meter: Meter | None) -> HttpResponse:
    form = MeterForm(sent(request), meter=meter)
    if request.method == "POST" and form.is_valid():
        saved = form.attempt(
            lambda: setup_actions.save_meter(
                by=actor_of(request), values=form.values(), meter=meter
            )
        )
        if saved is not None:
            messages.success(request, f"{saved.name} is saved.")
            return redirect("atp:setup_meters")
    charts = check_charts([meter], now=timezone.now()) if meter is not None else {}
    context = {
        "room": "setup",
        "form": form,
        "meter": meter,
        "drifts": [drift for chart in charts.values() for drift in chart.drifts],
    }
    return render(request, "atp/meters/edit.html", context, status=422 if form.is_bound else 200)


@permission_needed("edit_setup")
def add_meter(request: Request) -> HttpResponse:
    return _save_meter(request, meter=None)


@permission_needed("edit_setup")
def edit_meter(request: Request, pk: int) -> HttpResponse:
    return _save_meter(request, meter=get_object_or_404(Meter, pk=pk))


def sticks(request: Request) -> HttpResponse:
    context = {
        "room": "setup",
        "atp_tests": atp_tests_with_lots(),
        "today": timezone.localdate(),
    }
    return render(request, "atp/meters/tests.html", context)


def _save_atp_test(request: Request, *, atp_test: AtpTest | None) -> HttpResponse:
    form = AtpTestForm(sent(request), atp_test=atp_test)
    if request.method == "POST" and form.is_valid():
        saved = form.attempt(
            lambda: setup_actions.save_atp_test(
                by=actor_of(request), values=form.values(), atp_test=atp_test
            )
        )
        if saved is not None:
            messages.success(request, f"{saved.name} is saved.")
            return redirect("atp:setup_sticks")
    context = {"room": "setup", "form": form, "atp_test": atp_test}
    return render(
        request, "atp/meters/test_kind.html", context, status=422 if form.is_bound else 200
    )


@permission_needed("edit_setup")
def add_atp_test(request: Request) -> HttpResponse:
    return _save_atp_test(request, atp_test=None)


@permission_needed("edit_setup")
def edit_atp_test(request: Request, pk: int) -> HttpResponse:
    return _save_atp_test(request, atp_test=get_object_or_404(AtpTest, pk=pk))


def _save_test_lot(
    request: Request, *, test_lot: AtpTestLot | None, chosen: str = ""
) -> HttpResponse:
    initial = {"initial": {"atp_test": chosen, "active": True}} if test_lot is None else {}
    form = AtpTestLotForm(sent(request), test_lot=test_lot, **initial)
    if request.method == "POST" and form.is_valid():
        saved = form.attempt(
            lambda: setup_actions.save_test_lot(
                by=actor_of(request), values=form.values(), test_lot=test_lot
            )
        )
        if saved is not None:
            messages.success(request, f"{saved} is saved.")
            if saved.expires_on < timezone.localdate():
                messages.warning(request, f"{saved} is past its date: no stick of it is taken.")
            return redirect("atp:setup_sticks")
    context = {"room": "setup", "form": form, "test_lot": test_lot}
    return render(
        request, "atp/meters/test_lot.html", context, status=422 if form.is_bound else 200
    )


@permission_needed("edit_setup")
def add_test_lot(request: Request) -> HttpResponse:
    return _save_test_lot(request, test_lot=None, chosen=request.GET.get("type", ""))


@permission_needed("edit_setup")
def edit_test_lot(request: Request, pk: int) -> HttpResponse:
    return _save_test_lot(request, test_lot=get_object_or_404(AtpTestLot, pk=pk))
