"""One way from a form to an action and on: sent, checked, attempted, answered."""

from collections.abc import Callable
from typing import Any, TypeVar

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.forms import ActionForm, ConfirmedForm
from brewhygiene.people.requests import Request, actor_of
from brewhygiene.people.signatures import guard_password

M = TypeVar("M")


def page(
    request: Request,
    template: str,
    *,
    form: Form | None = None,
    also: Form | None = None,
    **context: Any,
) -> HttpResponse:
    """A page; with status 422 where its form, or the one it has ``also``, comes back."""
    status = 422 if any(one is not None and one.is_bound for one in (form, also)) else 200
    return render(request, template, {"form": form, **context}, status=status)


def submitted(
    request: Request,
    form: ActionForm,
    act: Callable[[Actor], M],
    *,
    said: str | Callable[[M], str] = "",
) -> M | None:
    """What the action recorded; ``None`` where nothing was sent or the form has errors.

    ``act`` is called with the actor once the form is valid; a refusal becomes the form's error.
    ``said`` is shown on the next page: words, or what makes them of what was recorded.
    """
    if request.method != "POST":
        return None
    recorded = form.attempt(lambda: act(actor_of(request))) if form.is_valid() else None
    if recorded is None:
        request.refused = reasons_of(form)
    if recorded is not None and said:
        messages.success(request, said if isinstance(said, str) else said(recorded))
    return recorded


def reasons_of(form: Form) -> list[str]:
    """Why a form came back, each in words: its page need not show the form any more."""
    return [str(reason) for reasons in form.errors.values() for reason in reasons]


def confirmed(
    request: Request, form: ActionForm, act: Callable[[Actor, str], M]
) -> Callable[[Actor], M]:
    """The same action, handed the form's password; a wrong one is counted in this session.

    What a password has to be is asked by the action, so that no other caller gets round it.
    """

    def checked(by: Actor) -> M:
        password = form.cleaned_data["password"]
        guard_password(request, password=password)
        return act(by, password)

    return checked


def button(
    request: Request,
    act: Callable[[Actor], M],
    *,
    said: str | Callable[[M], str],
    to: str,
    args: tuple[Any, ...] = (),
) -> HttpResponse:
    """Answer a button without fields: back to ``to``, saying what was done or why it was not."""
    form = ActionForm(request.POST)
    submitted(request, form, act, said=said)
    for reasons in form.errors.values():
        messages.error(request, " ".join(map(str, reasons)))
    return redirect(to, *args)


def sign_off(
    request: Request,
    act: Callable[[Actor, str], M],
    *,
    title: str,
    do: str,
    said: str | Callable[[M], str],
    to: str,
    args: tuple[Any, ...] = (),
    about: str = "",
) -> HttpResponse:
    """A page that asks for the password before an action without fields; then back to ``to``."""
    form = ConfirmedForm(request.POST if request.method == "POST" else None)
    if submitted(request, form, confirmed(request, form, act), said=said) is not None:
        return redirect(to, *args)
    return page(
        request,
        "people/sign_off.html",
        form=form,
        room="setup",
        title=title,
        about=about,
        do=do,
        back=reverse(to, args=args),
    )
