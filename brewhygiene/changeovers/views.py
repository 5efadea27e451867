"""The list of validated changeovers, and the test after one."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.changeovers import actions
from brewhygiene.changeovers.forms import AllergenTestForm, RetireForm, ValidationForm
from brewhygiene.changeovers.models import AllergenTest, Finding, Validation
from brewhygiene.changeovers.turnaround import changeover_of, evidence_of
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.turnarounds.models import CleanPurpose, Turnaround


def validations(request: Request) -> HttpResponse:
    """Every validation, those retired last. 1 query for the list."""
    every = Validation.objects.select_related("version__regime", "signature", "retirement")
    listed = sorted(every, key=lambda one: one.retired_at is not None)
    return page(request, "changeovers/validations.html", room="setup", validations=listed)


@sensitive_post_parameters("password")
@permission_needed("edit_setup")
def validate(request: Request) -> HttpResponse:
    """Sign that a regime version takes an allergen away."""
    form = ValidationForm(sent(request))
    if submitted(
        request,
        form,
        confirmed(
            request,
            form,
            lambda by, password: actions.validate_changeover(
                by=by, password=password, **form.given
            ),
        ),
        said=lambda made: f"{made} is validated.",
    ):
        return redirect("changeovers:validations")
    return page(request, "changeovers/validate.html", form=form, room="setup")


@sensitive_post_parameters("password")
@permission_needed("edit_setup")
def retire(request: Request, pk: int) -> HttpResponse:
    """Sign that a validation no longer stands."""
    found = get_object_or_404(Validation.objects.select_related("version__regime"), pk=pk)
    form = RetireForm(sent(request))
    if submitted(
        request,
        form,
        confirmed(
            request,
            form,
            lambda by, password: actions.retire_validation(
                by=by, validation=found, password=password, **form.given
            ),
        ),
        said=lambda made: f"{made} is retired.",
    ):
        return redirect("changeovers:validations")
    return page(request, "changeovers/retire.html", form=form, room="setup", validation=found)


def _said(test: AllergenTest) -> str:
    if test.result == Finding.POSITIVE:
        return f"Recorded: {test}. The vessel needs a re-clean, and a test after it."
    return f"Recorded: {test}."


@permission_needed("work_cellar")
def record_test(request: Request, pk: int) -> HttpResponse:
    """Record an allergen test after the last clean of a turnaround."""
    turnaround = get_object_or_404(
        Turnaround.objects.select_related("vessel", "next_beer", "closing_fill__beer"), pk=pk
    )
    changeover = changeover_of(turnaround)
    asked = changeover.crossing or list(changeover.carried)
    form = AllergenTestForm(sent(request), initial={"allergen": asked[0] if asked else ""})
    if submitted(
        request,
        form,
        lambda by: actions.record_allergen_test(by=by, turnaround=turnaround, **form.given),
        said=_said,
    ):
        return redirect("board:turnaround", pk)
    clean = (
        turnaround.cleans.filter(purpose=CleanPurpose.CLEAN, finished_at__isnull=False)
        .select_related("version__regime")
        .order_by("-pk")
        .first()
    )
    return page(
        request,
        "changeovers/test.html",
        form=form,
        room="board",
        turnaround=turnaround,
        vessel=turnaround.vessel,
        tests=changeover.tests,
        evidence=evidence_of(changeover, clean),
        crosses=bool(changeover.crossing),
    )
