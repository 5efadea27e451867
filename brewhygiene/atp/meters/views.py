"""The meters on the floor: the state of each today, and its control check."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.meters import actions as meter_actions
from brewhygiene.atp.meters.forms import CheckForm
from brewhygiene.atp.meters.queries import (
    atp_tests_with_lots,
    filled_on_doubt,
    meter_cards,
    readings_in_doubt,
)
from brewhygiene.atp.models.meters import ControlCheck, Meter
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, next_page, sent


def meters(request: Request) -> HttpResponse:
    today = timezone.localdate()
    cards = meter_cards(now=timezone.now(), today=today)
    return page(
        request,
        "atp/meters/meters.html",
        room="atp",
        cards=cards,
        # The first meter nobody has checked today is checked here, without another page.
        to_check=next((card.meter for card in cards if card.state == "none"), None),
        check_form=CheckForm(auto_id="check_%s"),
        atp_tests=atp_tests_with_lots(),
        today=today,
    )


@permission_needed("work_cellar")
def check(request: Request, pk: int) -> HttpResponse:
    meter = get_object_or_404(Meter, pk=pk)
    form = CheckForm(sent(request))

    def act(by: Actor) -> ControlCheck:
        given = {k: v for k, v in form.cleaned_data.items() if k not in ("key", "client_time")}
        return meter_actions.record_control_check(by=by, meter=meter, **given)

    back = next_page(request)
    made = submitted(request, form, act)
    if made is None:
        return page(request, "atp/meters/check.html", form=form, room="atp", meter=meter, next=back)
    if made.passed:
        messages.success(request, f"{meter.name} passed its control check.")
        if back:
            return redirect(back)
    query = {"next": back} if back else None
    return redirect(reverse("atp:checked", args=[meter.pk, made.pk], query=query))


def checked(request: Request, pk: int, check_pk: int) -> HttpResponse:
    made = get_object_or_404(
        ControlCheck.objects.select_related("meter", "checked_by"), pk=check_pk, meter_id=pk
    )
    meter = made.meter
    blank_ok = meter.blank_within(made.blank_rlu)
    positive_ok = meter.positive_within(made.positive_rlu)
    return page(
        request,
        "atp/meters/checked.html",
        room="atp",
        check=made,
        meter=meter,
        blank_ok=blank_ok,
        positive_ok=positive_ok,
        next=next_page(request),
        in_doubt=readings_in_doubt(made),
        filled=filled_on_doubt(made),
        ranges_changed=made.passed != (blank_ok and positive_ok),
    )
