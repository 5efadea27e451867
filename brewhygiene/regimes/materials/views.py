"""Labels of agents, and the limits of a regime on a vessel: to read for anybody signed in."""

from django.core.files.storage import default_storage
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.forms import ConfirmedForm
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.regimes.materials import actions
from brewhygiene.regimes.materials.forms import LabelForm, WithdrawForm, read_label
from brewhygiene.regimes.materials.labels import labels_on_record
from brewhygiene.regimes.materials.limits import unsigned_limits
from brewhygiene.regimes.materials.models import MaterialLabel, SignedLimits
from brewhygiene.regimes.models import RegimeVersion


def labels(request: Request) -> HttpResponse:
    """Every label, and the limits that were signed."""
    return page(
        request,
        "regimes/materials/labels.html",
        room="setup",
        labels=labels_on_record(),
        signed=SignedLimits.objects.select_related("version__regime", "vessel", "signature"),
    )


@sensitive_post_parameters("password")
@permission_needed("edit_setup")
def add_label(request: Request) -> HttpResponse:
    """Keep a label with its file, signed."""
    posted = request.method == "POST"
    form = LabelForm(sent(request), request.FILES if posted else None)

    def act(by: Actor, password: str) -> MaterialLabel:
        given = form.given
        return actions.keep_label(
            by=by,
            agent=given["agent"],
            material=given["material"],
            max_strength=given["max_strength"],
            says=given["says"],
            file=read_label(given["file"]),
            password=password,
        )

    if submitted(request, form, confirmed(request, form, act), said="Label saved.") is not None:
        return redirect("regimes:labels")
    return page(request, "regimes/materials/add_label.html", form=form, room="setup")


def label_file(request: Request, pk: int) -> FileResponse:
    """The file as it is kept. For anyone signed in."""
    label = get_object_or_404(MaterialLabel, pk=pk)
    if not label.file.name or not default_storage.exists(label.file.name):
        raise Http404("The file is not in the data folder.")
    return FileResponse(
        label.file.open("rb"),
        as_attachment=True,
        filename=label.original_name,
        content_type="application/octet-stream",
    )


@sensitive_post_parameters("password")
@permission_needed("edit_setup")
def withdraw_label(request: Request, pk: int) -> HttpResponse:
    """Let a label count no longer."""
    label = get_object_or_404(labels_on_record(), pk=pk)
    form = WithdrawForm(sent(request))

    def act(by: Actor, password: str) -> MaterialLabel:
        reason = form.cleaned_data["reason"]
        return actions.withdraw_label(by=by, label=label, reason=reason, password=password)

    said = f"The {label} no longer counts. It stays on record."
    if submitted(request, form, confirmed(request, form, act), said=said) is not None:
        return redirect("regimes:labels")
    return page(request, "regimes/materials/end_label.html", form=form, room="setup", label=label)


@sensitive_post_parameters("password")
@permission_needed("edit_setup")
def sign_limits(request: Request, pk: int, vessel_pk: int) -> HttpResponse:
    """Sign the limits of a regime version on a vessel once."""
    version = get_object_or_404(RegimeVersion.objects.select_related("regime"), pk=pk)
    vessel = get_object_or_404(Vessel, pk=vessel_pk)
    form = ConfirmedForm(sent(request))

    def act(by: Actor, password: str) -> SignedLimits:
        return actions.sign_limits(by=by, version=version, vessel=vessel, password=password)

    said = f"Limits signed. Cleans of {vessel.name} by {version} show them and ask for no tick."
    if submitted(request, form, confirmed(request, form, act), said=said) is not None:
        return redirect("regimes:regime", version.regime_id)
    return page(
        request,
        "regimes/materials/sign_limits.html",
        form=form,
        room="setup",
        version=version,
        vessel=vessel,
        limits=unsigned_limits(version, vessel),
    )
