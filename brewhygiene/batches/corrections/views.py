"""The page that corrects a batch or a lot."""

import dataclasses
from collections.abc import Callable, Mapping

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from brewhygiene.batches.corrections import actions
from brewhygiene.batches.corrections.forms import CorrectBatchForm, CorrectLotForm
from brewhygiene.batches.forms import BrewForm
from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.corrections import BrewCorrection
from brewhygiene.batches.models.lots import Lot
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


@dataclasses.dataclass(frozen=True)
class Corrected:
    """What is corrected: its table, its form, and the action, which it is handed to by name."""

    model: type[Batch] | type[Lot]
    form: type[BrewForm]
    act: Callable[..., BrewCorrection]
    begins: tuple[str, ...]  # the fields that the form begins with


KINDS: Mapping[str, Corrected] = {
    "batch": Corrected(Batch, CorrectBatchForm, actions.correct_batch, ("number",)),
    "lot": Corrected(Lot, CorrectLotForm, actions.correct_lot, ("number", "units", "unit_l")),
}


def _renamed(done: BrewCorrection) -> str:
    if done.was_number == done.is_number:
        return f"{done.is_number} corrected"
    return f"{done.was_number} corrected to {done.is_number}"


@permission_needed("work_cellar")
def correct(request: Request, pk: int, kind: str) -> HttpResponse:
    """Correct a mistyped batch number, or the number and the volume of a lot."""
    what = KINDS[kind]
    row = get_object_or_404(what.model, pk=pk)
    assert isinstance(row, Batch | Lot)
    begins = {name: getattr(row, name) for name in what.begins}
    form = what.form(sent(request), brewery=request.brewery, initial=begins)
    back = reverse(f"batches:{kind}", args=[pk])
    corrected = submitted(
        request,
        form,
        lambda by: what.act(by=by, **{kind: row}, **form.given),
        said=lambda done: f"{kind.capitalize()} {_renamed(done)}.",
    )
    if corrected is not None:
        return redirect(back)
    return page(
        request,
        "batches/forms/correct.html",
        form=form,
        room="batches",
        title=f"Correct {kind} {row.number}",
        back=back,
    )
