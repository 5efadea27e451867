"""The page of a release without a working meter."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.atp.meters.queries import meters_that_work
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.models import User
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request
from brewhygiene.people.signing_in.second_signature import SECRET, SIGNER, guard_second
from brewhygiene.release.gates import gates_of
from brewhygiene.release.models import Decision
from brewhygiene.release.powers import actions
from brewhygiene.release.powers.forms import WithoutMeterForm
from brewhygiene.release.powers.no_meter import other_gates, plate_words, strength_words, why_not
from brewhygiene.release.powers.rules import rules_in_force
from brewhygiene.release.powers.signers import any_second
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds.models import Turnaround


def _said(decision: Decision) -> str:
    name = decision.turnaround.vessel.name
    return f"{name} is {decision.get_kind_display()}. The plate still has to be read."


@sensitive_post_parameters("password", "second_secret")
@permission_needed("decide_release")
def without_meter(request: Request, turnaround_pk: int) -> HttpResponse:
    """Two people release a vessel that no meter can read, or are told why they cannot."""
    turnaround = get_object_or_404(Turnaround, pk=turnaround_pk)
    user: User = request.user  # type: ignore[assignment]
    now = timezone.now()
    dossier = load_dossier(turnaround, now=now)
    gates = gates_of(dossier, brewery=request.brewery, now=now, user=user)
    others = other_gates(gates)
    reasons = list(why_not(dossier, gates, meters_that_work(timezone.localdate(now))))
    two = any_second(user)
    if two.why_not:
        reasons.append(two.why_not)
    if dossier.status is None:
        reasons.insert(0, "This turnaround is closed.")
    form = WithoutMeterForm(request.POST or None, gates=others, seconds=two.seconds)

    def sign(by: Actor, password: str) -> Decision:
        given = form.cleaned_data
        if (person := given[SIGNER]) is not None:
            guard_second(request, person=person, secret=given[SECRET])
        return actions.release_without_meter(
            by=by,
            turnaround=turnaround,
            password=password,
            revision_seen=given["revision_seen"],
            seen=form.seen,
            second_signer=person,
            second_secret=given[SECRET],
            gate_reasons=form.gate_reasons,
        )

    if submitted(request, form, confirmed(request, form, sign), said=_said):
        return redirect("board:turnaround", turnaround_pk)
    return page(
        request,
        "release/powers/without_meter.html",
        form=form,
        room="release",
        turnaround=dossier.turnaround,
        vessel=dossier.turnaround.vessel,
        reasons=reasons,
        exceptions=[gate for gate in others if gate.needs_reason],
        strengths=strength_words(dossier),
        plates=plate_words(dossier),
        rules=rules_in_force(request.brewery),
        signs=True,
    )
