"""Correction of a misread plate."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.people.signatures import guard_password
from brewhygiene.plates.corrections import actions as correction_actions
from brewhygiene.plates.models import PlateCorrection, PlateState
from brewhygiene.plates.queries import plates_for_pages
from brewhygiene.plates.reading_forms import CorrectPlateForm, asked_rows, reading_as_typed
from brewhygiene.plates.views import about, more_rows


@sensitive_post_parameters("password")
@permission_needed("read_plates")
def correct(request: Request, pk: int) -> HttpResponse:
    """Correct the reading of a plate; the first one stays on record."""
    found = get_object_or_404(plates_for_pages(), pk=pk)
    was_positive = found.state == PlateState.POSITIVE
    more = more_rows(request)
    if request.method != "POST":
        rows, typed = reading_as_typed(found)
        form = CorrectPlateForm(initial=typed, rows=rows, was_positive=was_positive)
    elif more:
        typed = {**request.POST.dict(), "password": ""}
        form = CorrectPlateForm(initial=typed, rows=more, was_positive=was_positive)
    else:
        rows = asked_rows(request.POST)
        form = CorrectPlateForm(sent(request), rows=rows, was_positive=was_positive)

    def act(by: Actor) -> PlateCorrection:
        seen, password = form.seen(), form.cleaned_data.get("password", "")
        negative = seen["state"] == PlateState.NEGATIVE or (
            bool(seen["dishes"]) and all(dish.colonies == 0 for dish in seen["dishes"])
        )
        if was_positive and negative and found.resolved_at is None:
            guard_password(request, password=password)
        return correction_actions.correct_plate(
            by=by, plate=found, reason=form.cleaned_data["reason"], password=password, **seen
        )

    if (done := submitted(request, form, act)) is None:
        return page(request, "plates/correct.html", form=form, **about(found))
    if done.is_state == PlateState.POSITIVE and not was_positive:
        messages.warning(request, f"Positive: {found.vessel.name} is held.")
    else:
        messages.success(request, "Correction saved. The first reading stays on record.")
    return redirect("plates:plate", found.pk)
