"""The brewery's tablets: everybody signed in may look, head brewer and owner may change."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.ledger.recording import Actor
from brewhygiene.people import tablets
from brewhygiene.people.enrolment import actions
from brewhygiene.people.enrolment.forms import TabletForm
from brewhygiene.people.form_pages import confirmed, page, sign_off, submitted
from brewhygiene.people.models import Tablet
from brewhygiene.people.permissions import WHAT_IT_TAKES, may_any, permission_needed
from brewhygiene.people.requests import Request, sent
from brewhygiene.people.signing_in import resting
from brewhygiene.quantities.sorting import natural_key

MAY = ("edit_setup", "manage_people")


@sensitive_post_parameters()
def tablet_list(request: Request) -> HttpResponse:
    """All tablets, and the form that enrols the one in hand. 2 queries."""
    may_edit = may_any(request.user, MAY)
    if request.method == "POST" and not may_edit:
        raise PermissionDenied(WHAT_IT_TAKES["edit_setup"])
    form = TabletForm(sent(request))

    def enrol(by: Actor, password: str) -> Tablet:
        return actions.enrol_tablet(
            by=by,
            mark=tablets.mark_of(request),
            name=form.cleaned_data["name"],
            password=password,
        )

    done = submitted(
        request,
        form,
        confirmed(request, form, enrol),
        said=lambda tablet: f"This tablet is enrolled as {tablet}.",
    )
    if done is not None:
        resting.begin(request)
        return redirect("people:tablets")
    rows = sorted(
        Tablet.objects.select_related("enrolled_by"),
        key=lambda tablet: (tablet.retired_at is not None, natural_key(tablet.name)),
    )
    here = tablets.mark_of(request)
    return page(
        request,
        "people/enrolment/tablets.html",
        form=form,
        room="setup",
        may_edit=may_edit,
        here=here,
        here_is_enrolled=any(tablet.mark == here for tablet in rows),
        rows=rows,
    )


@sensitive_post_parameters()
@permission_needed(*MAY)
def rename(request: Request, pk: int) -> HttpResponse:
    tablet = get_object_or_404(Tablet, pk=pk, retired_at__isnull=True)
    form = TabletForm(sent(request), initial={"name": tablet.name})

    def act(by: Actor, password: str) -> Tablet:
        return actions.rename_tablet(
            by=by, tablet=tablet, name=form.cleaned_data["name"], password=password
        )

    if submitted(request, form, confirmed(request, form, act), said="Name saved."):
        return redirect("people:tablets")
    return page(request, "people/enrolment/rename.html", form=form, room="setup", tablet=tablet)


@sensitive_post_parameters()
@permission_needed(*MAY)
def retire(request: Request, pk: int) -> HttpResponse:
    tablet = get_object_or_404(Tablet, pk=pk)
    if tablet.retired_at is not None:
        messages.info(request, f"{tablet} was retired before.")
        return redirect("people:tablets")

    def act(by: Actor, password: str) -> Tablet:
        return actions.retire_tablet(by=by, tablet=tablet, password=password)

    return sign_off(
        request,
        act,
        title=f"Retire {tablet}",
        about="Nobody can choose a name or use a PIN on it any more. Its entries stay. "
        "Do this at once when a tablet is lost.",
        do="Retire tablet",
        said=f"{tablet} is retired.",
        to="people:tablets",
    )
