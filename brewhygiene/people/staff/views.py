"""The people of the brewery: anybody signed in may look, managers may change."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.debug import sensitive_post_parameters

from brewhygiene.people import actions
from brewhygiene.people.models import User
from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.queries import people_for_setup
from brewhygiene.people.requests import Request, actor_of
from brewhygiene.people.signatures import guard_password
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
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data

        def confirmed() -> User:
            guard_password(request, password=given["password"])
            return actions.add_person(
                by=actor_of(request),
                username=given["username"],
                full_name=given["full_name"],
                initials=given["initials"],
                roles=given["roles"],
                new_password=given["new_password"],
            )

        person = form.attempt(confirmed)
        if person is not None:
            messages.success(request, f"{person} can sign in now, as “{person.username}”.")
            return redirect("people:list")
    context = {"room": "setup", "form": form}
    return render(request, "people/staff/add.html", context, status=422 if form.is_bound else 200)


@sensitive_post_parameters()
@permission_needed("manage_people")
def edit(request: Request, pk: int) -> HttpResponse:
    person = get_object_or_404(people_for_setup(), pk=pk)
    form = EditPersonForm(
        request.POST or None,
        initial={
            "full_name": person.full_name,
            "initials": person.initials,
            "roles": actions.roles_of(person),
            "is_active": person.is_active,
        },
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data

        def confirmed() -> User:
            guard_password(request, password=given["password"])
            return actions.edit_person(
                by=actor_of(request),
                person=person,
                full_name=given["full_name"],
                initials=given["initials"],
                roles=given["roles"],
                is_active=given["is_active"],
                own_role_reason=given["own_role_reason"],
            )

        if form.attempt(confirmed) is not None:
            messages.success(request, f"{given['full_name']}: saved, in force from now on.")
            return redirect("people:list")
    context = {"room": "setup", "form": form, "person": person}
    return render(request, "people/staff/edit.html", context, status=422 if form.is_bound else 200)


@sensitive_post_parameters()
@permission_needed("manage_people")
def forget(request: Request, pk: int) -> HttpResponse:
    """Empty the name of somebody who has left."""
    person = get_object_or_404(User, pk=pk)
    form = ForgetForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data

        def confirmed() -> User:
            guard_password(request, password=given["password"])
            return actions.forget_name(by=actor_of(request), person=person)

        if form.attempt(confirmed) is not None:
            messages.success(request, "The name was emptied. Entries keep the person's number.")
            return redirect("people:list")
    context = {"room": "setup", "form": form, "person": person}
    return render(
        request, "people/staff/forget.html", context, status=422 if form.is_bound else 200
    )


@sensitive_post_parameters()
@permission_needed("manage_people")
def password(request: Request, pk: int) -> HttpResponse:
    person = get_object_or_404(User, pk=pk)
    if person == request.user:
        return redirect("people:own_password")
    form = OthersPasswordForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data

        def confirmed() -> User:
            guard_password(request, password=given["password"])
            return actions.set_password(
                by=actor_of(request), person=person, new_password=given["new_password"]
            )

        if form.attempt(confirmed) is not None:
            messages.success(request, f"{person} signs in with the new password from now on.")
            return redirect("people:list")
    context = {"room": "setup", "form": form, "person": person}
    return render(
        request, "people/staff/password.html", context, status=422 if form.is_bound else 200
    )
