"""The way from nothing to the first release."""

from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.ledger.recording import Actor
from brewhygiene.people import tablets
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.models import User
from brewhygiene.people.permissions import WHAT_IT_TAKES, may_any
from brewhygiene.people.requests import Request
from brewhygiene.release.gates import GATE_TITLES, NEVER_WAIVABLE
from brewhygiene.release.powers.rules import looser_than_shipped, rules_in_force
from brewhygiene.setup import actions
from brewhygiene.setup.checklist import checklist, next_stop
from brewhygiene.setup.forms import FirstPersonForm, ReleaseRulesForm


@sensitive_post_parameters()
@never_cache
@login_not_required
def first(request: Request) -> HttpResponse:
    """Only while nobody is there; whoever opens it first becomes head brewer and owner."""
    if User.objects.exists():
        return redirect("people:sign_in")
    form = FirstPersonForm(request.POST or None, initial={"time_zone": "UTC"})

    def set_up(by: Actor) -> User:
        given = {name: value for name, value in form.given.items() if name != "new_password_again"}
        return actions.set_up_first_person(by=by, **given)

    person = submitted(request, form, set_up)
    if person is not None:
        login(request, person, backend="django.contrib.auth.backends.ModelBackend")
        response = redirect("setup:index")
        tablets.remember(request, response)
        return response
    return page(request, "setup/first.html", form=form)


def index(request: Request) -> HttpResponse:
    groups = checklist(brewery=request.brewery, today=timezone.localdate())
    context = {"room": "setup", "groups": groups, "next": next_stop(groups)}
    return render(request, "setup/index.html", context)


@sensitive_post_parameters()
def release_rules(request: Request) -> HttpResponse:
    """To read for everybody signed in, to fill in for head brewer and owner."""
    may_edit = may_any(request.user, ("edit_setup", "manage_people"))
    if request.method == "POST" and not may_edit:
        raise PermissionDenied(WHAT_IT_TAKES["manage_people"])
    brewery = request.brewery
    form = ReleaseRulesForm(
        request.POST or None,
        initial={
            "self_release_allowed": brewery.self_release_allowed,
            "waivable_gates": brewery.waivable_gates,
        },
    )
    if submitted(
        request,
        form,
        confirmed(
            request,
            form,
            lambda by, password: actions.set_release_rules(by=by, password=password, **form.given),
        ),
        said="Release rules saved.",
    ):
        return redirect("setup:index")
    return page(
        request,
        "setup/release_rules.html",
        form=form,
        room="setup",
        may_edit=may_edit,
        # Two people: opened or closed by the first of the rules.
        never=[GATE_TITLES[c] for c in GATE_TITLES if c in NEVER_WAIVABLE - {"two_people"}],
        waived=[
            title
            for code, title in GATE_TITLES.items()
            if code in brewery.waivable_gates and code not in NEVER_WAIVABLE
        ],
        looser=looser_than_shipped(brewery),
        rules=rules_in_force(brewery),
    )
