"""Holds: the signed decision on one, and a hold by hand."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.batches.brews.forms import HoldForm
from brewhygiene.batches.crops.actions import hold as hold_action
from brewhygiene.batches.decisions import actions
from brewhygiene.batches.decisions.forms import DecideForm, TraceRuleForm
from brewhygiene.batches.holds import standing_holds
from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.holds import Hold, HoldDecision
from brewhygiene.batches.trace.ranks import trace_of
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent


def _address_of(hold: Hold) -> str:
    """Where a person was before deciding: the trace, or the page of what is held."""
    if hold.plate_id is not None:
        return reverse("batches:trace", args=[hold.plate_id])
    if hold.batch_id is not None:
        return reverse("batches:batch", args=[hold.batch_id])
    return reverse("batches:crop", args=[hold.crop_id])


@sensitive_post_parameters("password")
@permission_needed("decide_release")
def decide(request: Request, pk: int) -> HttpResponse:
    """Decide one hold, signed."""
    hold = get_object_or_404(standing_holds().prefetch_related("decisions__signature"), pk=pk)
    form = DecideForm(sent(request))

    def act(by: Actor, password: str) -> HoldDecision:
        given = form.cleaned_data
        return actions.decide(
            by=by,
            hold=hold,
            choice=given["choice"],
            reason=given["reason"],
            password=password,
        )

    said = f"Decision on {hold.about} is signed."
    if submitted(request, form, confirmed(request, form, act), said=said) is not None:
        return redirect(_address_of(hold))
    alone = hold.batch or hold.crop
    return page(
        request,
        "batches/trace/decide.html",
        form=form,
        room="batches",
        hold=hold,
        back=_address_of(hold),
        rest=trace_of(hold.plate).rest if alone is None and hold.plate is not None else [],
    )


def _by_hand(request: Request, subject: Batch | YeastCrop, address: str) -> HttpResponse:
    form = HoldForm(sent(request))
    said = f"{subject.number} is held."
    if submitted(
        request,
        form,
        lambda by: hold_action(by=by, subject=subject, reason=form.cleaned_data["reason"]),
        said=said,
    ):
        return redirect(address, subject.pk)
    return page(
        request,
        "batches/forms/hold.html",
        form=form,
        room="batches",
        subject=subject,
        back=reverse(address, args=[subject.pk]),
    )


@permission_needed("work_cellar")
def hold_batch(request: Request, pk: int) -> HttpResponse:
    """Hold a batch by hand."""
    return _by_hand(request, get_object_or_404(Batch, pk=pk), "batches:batch")


@permission_needed("work_cellar")
def hold_crop(request: Request, pk: int) -> HttpResponse:
    """Hold a yeast crop by hand."""
    return _by_hand(request, get_object_or_404(YeastCrop, pk=pk), "batches:crop")


@sensitive_post_parameters("password")
@permission_needed("edit_setup")
def trace_rule(request: Request) -> HttpResponse:
    """Choose the rule that every trace goes by, and prints."""
    rule = {"clean_frees_equipment": request.brewery.clean_frees_equipment}
    form = TraceRuleForm(sent(request), initial=rule)
    act = confirmed(
        request,
        form,
        lambda by, password: actions.set_trace_rule(by=by, password=password, **form.given),
    )
    if submitted(request, form, act, said="Rule of the trace saved."):
        return redirect("plates:due")
    return page(request, "batches/forms/trace_rule.html", form=form, room="batches")
