"""The people of the brewery: anybody signed in may look, managers may change."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.ledger.recording import Actor
from brewhygiene.people import actions
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.models import User
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.queries import people_for_setup
from brewhygiene.people.requests import Request
from brewhygiene.people.staff.forms import (
    AddPersonForm,
    EditPersonForm,
    ForgetForm,
    OthersPasswordForm,
)


def people_list(request: Request) -> HttpResponse:
    rows = [(person, actions.roles_of(person)) for person in people_for_setup()]
    return render(request, "people/staff/people.html", {"room": "setup", "rows": rows})


@sensitive_post_parameters()
@permission_needed("manage_people")
def add(request: Request) -> HttpResponse:
    form = AddPersonForm(request.POST or None)
    kept = ("username", "full_name", "initials", "roles", "new_password")

    def act(by: Actor, password: str) -> User:
        given = {name: form.cleaned_data[name] for name in kept}
        return actions.add_person(by=by, password=password, **given)

    if submitted(
        request,
        form,
        confirmed(request, form, act),
        said=lambda person: f"{person} added. The sign-in name is “{person.username}”.",
    ):
        return redirect("people:list")
    return page(request, "people/staff/add.html", form=form, room="setup")


@sensitive_post_parameters()
@permission_needed("manage_people")
def edit(request: Request, pk: int) -> HttpResponse:
    person = get_object_or_404(people_for_setup(), pk=pk)
    kept = ("full_name", "initials", "roles", "is_active")
    stored = {name: getattr(person, name) for name in kept if name != "roles"}
    form = EditPersonForm(
        request.POST or None, initial={**stored, "roles": actions.roles_of(person)}
    )

    def act(by: Actor, password: str) -> User:
        given = {name: form.cleaned_data[name] for name in (*kept, "own_role_reason")}
        return actions.edit_person(by=by, person=person, password=password, **given)

    if submitted(
        request, form, confirmed(request, form, act), said=lambda saved: f"{saved.full_name} saved."
    ):
        return redirect("people:list")
    return page(request, "people/staff/edit.html", form=form, room="setup", person=person)


@sensitive_post_parameters()
@permission_needed("manage_people")
def forget(request: Request, pk: int) -> HttpResponse:
    """Empty the name of somebody who has left."""
    person = get_object_or_404(User, pk=pk)
    form = ForgetForm(request.POST or None)

    def act(by: Actor, password: str) -> User:
        return actions.forget_name(by=by, person=person, password=password)

    if submitted(
        request,
        form,
        confirmed(request, form, act),
        said="The name was emptied. Entries keep the person's number.",
    ):
        return redirect("people:list")
    return page(request, "people/staff/forget.html", form=form, room="setup", person=person)


@sensitive_post_parameters()
@permission_needed("manage_people")
def password(request: Request, pk: int) -> HttpResponse:
    person = get_object_or_404(User, pk=pk)
    if person == request.user:
        return redirect("people:own_password")
    form = OthersPasswordForm(request.POST or None)

    def act(by: Actor, password: str) -> User:
        new_password = form.cleaned_data["new_password"]
        return actions.set_password(
            by=by, person=person, new_password=new_password, password=password
        )

    if submitted(
        request, form, confirmed(request, form, act), said=f"{person} has a new password."
    ):
        return redirect("people:list")
    return page(request, "people/staff/password.html", form=form, room="setup", person=person)
