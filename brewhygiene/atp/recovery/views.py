"""Recovery studies: their list, a new one, and retiring one."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.atp.models.recovery import RecoveryStudy
from brewhygiene.atp.recovery import actions
from brewhygiene.atp.recovery.forms import StudyForm
from brewhygiene.atp.recovery.queries import studies
from brewhygiene.people.form_pages import confirmed, page, sign_off, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.science.agreement.recovery import ACCEPTED


def _said(study: RecoveryStudy) -> str:
    result = f"Recovery {study.ratio:.0%}, 90 % interval {study.low:.0%} to {study.high:.0%}."
    if study.proved:
        return f"{result} {study.agent.name} does not dim this ATP test."
    return f"{result} That it does not dim is not proved."


def recovery_studies(request: Request) -> HttpResponse:
    today = timezone.localdate()
    rows = [(study, study.in_force_on(today)) for study in studies()]
    return page(
        request,
        "atp/recovery/studies.html",
        room="setup",
        rows=rows,
        accepted=ACCEPTED,
        months=actions.VALID_MONTHS,
    )


@sensitive_post_parameters("password")
@permission_needed("approve_limits")
def add_study(request: Request) -> HttpResponse:
    form = StudyForm(sent(request), today=timezone.localdate())
    added = submitted(
        request,
        form,
        confirmed(
            request,
            form,
            lambda by, password: actions.record_study(by=by, password=password, **form.given),
        ),
        said=_said,
    )
    if added is not None:
        return redirect("atp:recovery_studies")
    return page(request, "atp/recovery/add.html", form=form, room="setup", accepted=ACCEPTED)


@sensitive_post_parameters("password")
@permission_needed("approve_limits")
def retire_study(request: Request, pk: int) -> HttpResponse:
    study = get_object_or_404(studies(), pk=pk)
    return sign_off(
        request,
        lambda by, password: actions.retire_study(by=by, study=study, password=password),
        title="Retire recovery study",
        about=f"{study}. Readings in this sanitiser then have to be explained at a release.",
        do="Retire study",
        said="Recovery study retired.",
        to="atp:recovery_studies",
        args=(),
    )
