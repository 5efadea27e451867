"""The set-up of meters and sticks."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from brewhygiene.atp import setup_actions
from brewhygiene.atp.meter_drift import check_charts
from brewhygiene.atp.models import Meter, StickLot, StickType
from brewhygiene.atp.setup_forms import MeterForm, StickLotForm, StickTypeForm
from brewhygiene.atp.setup_queries import meters_for_setup, stick_types_with_lots
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import actor_of, sent


def meters(request: HttpRequest) -> HttpResponse:
    every = list(meters_for_setup())
    charts = check_charts([meter for meter in every if meter.active], now=timezone.now())
    context = {
        "room": "setup",
        "meters": every,
        "drifts": {pk: chart.drifts for pk, chart in charts.items()},
    }
    return render(request, "atp/setup_meters.html", context)


def _save_meter(request: HttpRequest, *, meter: Meter | None) -> HttpResponse:
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
    return render(request, "atp/setup_meter.html", context, status=422 if form.is_bound else 200)


@permission_needed("edit_setup")
def add_meter(request: HttpRequest) -> HttpResponse:
    return _save_meter(request, meter=None)


@permission_needed("edit_setup")
def edit_meter(request: HttpRequest, pk: int) -> HttpResponse:
    return _save_meter(request, meter=get_object_or_404(Meter, pk=pk))


def sticks(request: HttpRequest) -> HttpResponse:
    context = {
        "room": "setup",
        "stick_types": stick_types_with_lots(),
        "today": timezone.localdate(),
    }
    return render(request, "atp/setup_sticks.html", context)


def _save_stick_type(request: HttpRequest, *, stick_type: StickType | None) -> HttpResponse:
    form = StickTypeForm(sent(request), stick_type=stick_type)
    if request.method == "POST" and form.is_valid():
        saved = form.attempt(
            lambda: setup_actions.save_stick_type(
                by=actor_of(request), values=form.values(), stick_type=stick_type
            )
        )
        if saved is not None:
            messages.success(request, f"{saved.name} is saved.")
            return redirect("atp:setup_sticks")
    context = {"room": "setup", "form": form, "stick_type": stick_type}
    return render(
        request, "atp/setup_stick_type.html", context, status=422 if form.is_bound else 200
    )


@permission_needed("edit_setup")
def add_stick_type(request: HttpRequest) -> HttpResponse:
    return _save_stick_type(request, stick_type=None)


@permission_needed("edit_setup")
def edit_stick_type(request: HttpRequest, pk: int) -> HttpResponse:
    return _save_stick_type(request, stick_type=get_object_or_404(StickType, pk=pk))


def _save_stick_lot(
    request: HttpRequest, *, stick_lot: StickLot | None, chosen: str = ""
) -> HttpResponse:
    initial = {"initial": {"stick_type": chosen, "active": True}} if stick_lot is None else {}
    form = StickLotForm(sent(request), stick_lot=stick_lot, **initial)
    if request.method == "POST" and form.is_valid():
        saved = form.attempt(
            lambda: setup_actions.save_stick_lot(
                by=actor_of(request), values=form.values(), stick_lot=stick_lot
            )
        )
        if saved is not None:
            messages.success(request, f"{saved} is saved.")
            if saved.expires_on < timezone.localdate():
                messages.warning(request, f"{saved} is past its date: no stick of it is taken.")
            return redirect("atp:setup_sticks")
    context = {"room": "setup", "form": form, "stick_lot": stick_lot}
    return render(
        request, "atp/setup_stick_lot.html", context, status=422 if form.is_bound else 200
    )


@permission_needed("edit_setup")
def add_stick_lot(request: HttpRequest) -> HttpResponse:
    return _save_stick_lot(request, stick_lot=None, chosen=request.GET.get("type", ""))


@permission_needed("edit_setup")
def edit_stick_lot(request: HttpRequest, pk: int) -> HttpResponse:
    return _save_stick_lot(request, stick_lot=get_object_or_404(StickLot, pk=pk))
