"""Signing in and out, changing the person at a tablet, one's own PIN and password."""

import math
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth import authenticate, login, logout, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from brewhygiene.ledger.recording import Actor
from brewhygiene.people import actions, tablets
from brewhygiene.people.form_pages import confirmed, page, submitted
from brewhygiene.people.forms import new_key
from brewhygiene.people.models import User
from brewhygiene.people.queries import people_at_hand
from brewhygiene.people.requests import Request, actor_of, next_page
from brewhygiene.people.signing_in import resting, waits
from brewhygiene.people.signing_in.backends import PinBackend, may_use_pin
from brewhygiene.people.signing_in.demonstration import demo_pin, demo_sign_ins
from brewhygiene.people.signing_in.forms import (
    OwnPasswordForm,
    OwnPinForm,
    OwnStyleForm,
    PasswordForm,
    PinForm,
    SignInForm,
)
from brewhygiene.quantities.parsing import parse_row

PIN_BACKEND = "brewhygiene.people.signing_in.backends.PinBackend"


def _where_to(request: Request) -> str:
    """The page that was asked for, if it is one of ours; the board otherwise."""
    asked = request.POST.get("next") or request.GET.get("next") or ""
    ours = url_has_allowed_host_and_scheme(asked, allowed_hosts=None)
    if not ours or asked.startswith((reverse("people:switch"), reverse("people:sign_in"))):
        return reverse("board:board")
    return asked


def _after_sign_in(request: Request, user: Any) -> str:
    """To one's own password first, while somebody else knows it."""
    if not user.password_set_by:
        return _where_to(request)
    messages.warning(
        request,
        f"{user.password_set_by} set your password and knows it. Choose your own: until then you "
        "cannot sign.",
    )
    return reverse("people:own_password")


@sensitive_post_parameters()
@never_cache
@login_not_required
def sign_in(request: Request) -> HttpResponse:
    if request.method != "POST":
        if request.user.is_authenticated:
            return redirect(_where_to(request))
        if not User.objects.exists():
            return redirect("setup:first")
    form = SignInForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        user = authenticate(request, **form.cleaned_data)
        if user is not None:
            login(request, user)
            resting.begin(request)
            response = redirect(_after_sign_in(request, user))
            tablets.remember(request, response)
            return response
        form.add_error("password", "This name and password do not match. Check both.")
    return page(
        request,
        "people/signing_in/sign_in.html",
        form=form,
        next=_where_to(request),
        demo_sign_ins=demo_sign_ins() if request.brewery.is_demo else [],
        known_tablet=tablets.offers_names(request),
    )


@require_POST
@login_not_required
def sign_out(request: Request) -> HttpResponse:
    """Out; on a known tablet to everybody's names, and from there back to ``next``."""
    logout(request)
    if not tablets.offers_names(request):
        return redirect("people:sign_in")
    asked = next_page(request)
    switch_to = reverse("people:switch")
    return redirect(f"{switch_to}?{urlencode({'next': asked})}" if asked else switch_to)


@sensitive_post_parameters()
@never_cache
@login_not_required
def switch(request: Request) -> HttpResponse:
    """Who takes over this tablet: everybody's name, then that one's PIN or password."""
    if not request.user.is_authenticated and not tablets.offers_names(request):
        return redirect("people:sign_in")
    chosen = request.POST.get("person") or request.GET.get("person") or ""
    chosen_pk = parse_row(chosen)
    if chosen_pk is None:
        return render(
            request,
            "people/signing_in/switch.html",
            {"people": people_at_hand(), "next": _where_to(request)},
        )
    person = get_object_or_404(people_at_hand(), pk=chosen_pk)
    takes_pins = tablets.takes_pins(request)
    by_password = request.method == "POST" and "password" in request.POST
    by_pin = request.method == "POST" and not by_password
    pin_form = PinForm(request.POST if by_pin else None)
    password_form = PasswordForm(request.POST if by_password else None)
    if by_pin and not takes_pins:
        pin_form.add_error("pin", "This tablet is not enrolled. Enter the password.")
    if by_pin and pin_form.is_valid():
        refused = _take_over_by_pin(request, person, pin_form.cleaned_data["pin"])
        if not refused:
            return redirect(_where_to(request))
        pin_form.add_error("pin", refused)
    if by_password and password_form.is_valid():
        user = authenticate(request, username=person.username, **password_form.cleaned_data)
        if user is not None:
            login(request, user)
            resting.begin(request)
            response = redirect(_where_to(request))
            tablets.remember(request, response)
            return response
        password_form.add_error("password", f"This is not the password of {person.display_name}.")
    return page(
        request,
        "people/signing_in/hand_over.html",
        form=pin_form,
        also=password_form,
        pin_form=pin_form,
        password_form=password_form,
        person=person,
        has_pin=takes_pins and may_use_pin(person),
        takes_pins=takes_pins,
        demo_pin=demo_pin(person) if request.brewery.is_demo else "",
        next=_where_to(request),
    )


def _take_over_by_pin(request: Request, person: User, pin: str) -> str:
    """Sign that person in by PIN, or say why not; a wrong one is counted on this tablet."""
    now, tablet = timezone.now(), waits.tablet_of(request)
    until = waits.waits_until(person, tablet, now=now)
    if until is None:
        backend = PinBackend()
        if backend.authenticate(request, username=person.username, secret_pin=pin) is not None:
            waits.forget(person, tablet)
            login(request, person, backend=PIN_BACKEND)
            resting.begin(request)
            return ""
        until = waits.count_wrong(person, tablet, now=now)
    wrong = f"This is not the PIN of {person.display_name}."
    if until is None:
        return wrong
    seconds = math.ceil((until - now).total_seconds())
    pause = f"{seconds} seconds" if seconds < 120 else f"{math.ceil(seconds / 60)} minutes"
    return f"Too many wrong PINs on this tablet. Wait {pause}, or use the password."


@sensitive_post_parameters()
@never_cache
def pin(request: Request) -> HttpResponse:
    """One's own PIN; setting it takes the password."""
    user: User = request.user  # type: ignore[assignment]
    if "remove" in request.POST:
        actions.remove_own_pin(by=actor_of(request))
        messages.success(request, "PIN removed. Sign in with your password.")
        return redirect("people:pin")
    form = OwnPinForm(request.POST or None)

    def act(by: Actor, password: str) -> User:
        return actions.set_own_pin(by=by, new_pin=form.cleaned_data["new_pin"], password=password)

    if submitted(request, form, confirmed(request, form, act), said="PIN saved."):
        return redirect("people:pin")
    return page(
        request,
        "people/signing_in/pin.html",
        form=form,
        has_pin=bool(user.pin_hash),
        by_password_only=user.is_staff or user.is_superuser,
        remove_key=new_key(),
    )


def own_style(request: Request) -> HttpResponse:
    """How numbers and dates are shown to oneself."""
    user: User = request.user  # type: ignore[assignment]
    form = OwnStyleForm(
        request.POST or None,
        initial={"decimal_sign": user.decimal_sign, "date_style": user.date_style},
    )
    if submitted(
        request,
        form,
        lambda by: actions.choose_own_style(by=by, **form.given),
        said="Numbers and dates saved.",
    ):
        return redirect("people:pin")
    return page(request, "people/signing_in/own_style.html", form=form)


@sensitive_post_parameters()
@never_cache
def own_password(request: Request) -> HttpResponse:
    form = OwnPasswordForm(request.POST or None)

    def act(by: Actor, password: str) -> User:
        new_password = form.cleaned_data["new_password"]
        return actions.change_own_password(by=by, new_password=new_password, password=password)

    person = submitted(
        request,
        form,
        confirmed(request, form, act),
        said="Password saved. Other tablets ask for it again.",
    )
    if person is not None:
        update_session_auth_hash(request, person)
        return redirect("people:pin")
    return page(request, "people/signing_in/own_password.html", form=form)
