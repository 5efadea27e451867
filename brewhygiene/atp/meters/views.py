"""The meters on the floor: how each stands today, and its control check."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.meters import actions as meter_actions
from brewhygiene.atp.meters.forms import CheckForm
from brewhygiene.atp.meters.queries import atp_tests_with_lots, meter_cards
from brewhygiene.atp.models.meters import ControlCheck, Meter
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, actor_of, next_page, sent


def meters(request: Request) -> HttpResponse:
    today = timezone.localdate()
    context = {
        "room": "atp",
        "cards": meter_cards(now=timezone.now(), today=today),
        "atp_tests": atp_tests_with_lots(),
        "today": today,
    }
    return render(request, "atp/meters/meters.html", context)


@permission_needed("work_cellar")
def check(request: Request, pk: int) -> HttpResponse:
    meter = get_object_or_404(Meter, pk=pk)
    form = CheckForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.attempt(
            lambda: meter_actions.record_control_check(
                by=actor_of(request),
                meter=meter,
                blank_rlu=given["blank_rlu"],
                positive_rlu=given["positive_rlu"],
                note=given["note"],
            )
        )
        if made is not None:
            if made.passed:
                messages.success(request, f"{meter.name} passed its control check.")
            back = next_page(request)
            if made.passed and back:
                return redirect(back)
            return redirect(
                reverse(
                    "atp:checked", args=[meter.pk, made.pk], query={"next": back} if back else None
                )
            )
    context = {"room": "atp", "form": form, "meter": meter, "next": next_page(request)}
    return render(request, "atp/meters/check.html", context, status=422 if form.is_bound else 200)


def checked(request: Request, pk: int, check_pk: int) -> HttpResponse:
    made = get_object_or_404(
        ControlCheck.objects.select_related("meter", "checked_by"), pk=check_pk, meter_id=pk
    )
    meter = made.meter
    blank_ok = meter.blank_within(made.blank_rlu)
    positive_ok = meter.positive_within(made.positive_rlu)
    context = {
        "room": "atp",
        "check": made,
        "meter": meter,
        "blank_ok": blank_ok,
        "positive_ok": positive_ok,
        "next": next_page(request),
        "ranges_changed": made.passed != (blank_ok and positive_ok),
    }
    return render(request, "atp/meters/checked.html", context)
