"""The conductivity calibration of an agent: anybody signed in may look, the head brewer may set."""

import dataclasses
from collections.abc import Sequence

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import button, submitted
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.permissions import WHAT_IT_TAKES, may, permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.regimes.conductivity import actions as calibration_actions
from brewhygiene.regimes.conductivity.calibration import (
    Pair,
    PairRow,
    fit_of,
    fitted,
    pairs_of,
    rows_of,
    warning_of,
)
from brewhygiene.regimes.conductivity.forms import CalibrationForm, lines_of
from brewhygiene.regimes.models import Agent, Basis, ConductivityCalibration
from brewhygiene.science.solutions.calibration import Calibration
from brewhygiene.science.solutions.conductivity import CONDUCTIVE_SOLUTES


@dataclasses.dataclass(frozen=True)
class Shown:
    """A fit with its pairs, and the calibration where it is kept."""

    fit: Calibration
    basis: str
    rows: Sequence[PairRow]
    kept: ConductivityCalibration | None = None


def _shown(pairs: list[Pair], fit: Calibration, basis: str) -> Shown:
    return Shown(fit, str(Basis(basis).label), rows_of(pairs, fit))


def _kept(kept: ConductivityCalibration) -> Shown:
    shown = _shown(pairs_of(kept), fit_of(kept), kept.fit["basis"])
    return dataclasses.replace(shown, kept=kept)


def calibration(request: Request, pk: int) -> HttpResponse:
    """The one in force and those before it; pairs are fitted first and saved after a look."""
    if request.method == "POST" and not may(request.user, "edit_setup"):
        raise PermissionDenied(WHAT_IT_TAKES["edit_setup"])
    agent = get_object_or_404(Agent, pk=pk)
    brewery = request.brewery
    kept = list(agent.calibrations.select_related("made_by"))
    in_force = next((one for one in kept if one.retired_at is None), None)
    initial = {}
    if in_force is not None:
        initial = {"pairs": lines_of(pairs_of(in_force), brewery), "basis": in_force.fit["basis"]}
    form = CalibrationForm(sent(request), agent=agent, brewery=brewery, initial=initial)
    saving = request.POST.get("do") == "save"

    def try_or_save(by: Actor) -> ConductivityCalibration | Shown:
        pairs, basis = form.cleaned_data["pairs"], form.cleaned_data["basis"]
        if saving:
            return calibration_actions.save_calibration(
                by=by, agent=agent, pairs=pairs, basis=basis
            )
        return _shown(pairs, fitted(pairs, basis=basis), basis)

    done = submitted(request, form, try_or_save)
    if done is not None and saving:
        messages.success(request, f"Calibration of {agent.name} saved. It is in force now.")
        return redirect("regimes:calibration", agent.pk)
    context = {
        "room": "setup",
        "agent": agent,
        "form": form,
        "tried": done,
        "in_force": _kept(in_force) if in_force else None,
        "earlier": [one for one in kept if one.retired_at is not None],
        "published": agent.active_substance in CONDUCTIVE_SOLUTES,
        "warning": warning_of(agent),
        "retire_form": ActionForm(auto_id="retire_%s"),
    }
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "regimes/agents/calibration.html", context, status=status)


@require_POST
@permission_needed("edit_setup")
def retire_calibration(request: Request, pk: int) -> HttpResponse:
    """Take the one in force out of it."""
    agent = get_object_or_404(Agent, pk=pk)
    return button(
        request,
        lambda by: calibration_actions.retire_calibration(by=by, agent=agent),
        said="Calibration retired. It stays on record.",
        to="regimes:calibration",
        args=(pk,),
    )
