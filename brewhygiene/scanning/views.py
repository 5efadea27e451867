"""Scanning: one page for any code, the answer for the script of a form, and a new product."""

from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.permissions import may, permission_needed
from brewhygiene.people.requests import Request
from brewhygiene.quantities.codes.element_strings import Unreadable
from brewhygiene.quantities.codes.numbers import is_number
from brewhygiene.regimes.models import Agent
from brewhygiene.scanning.actions import remember_product
from brewhygiene.scanning.forms import ProductForm, ScanForm
from brewhygiene.scanning.meaning import EXPECTED, Meaning, answer, lot_of, meaning_of
from brewhygiene.scanning.places import place_of
from brewhygiene.scanning.products import Product

UNKNOWN = "No vessel, sampling point or package is known by this code. "


def _shown(
    request: Request, form: ScanForm, *, meaning: Meaning | None, product: ProductForm | None = None
) -> HttpResponse:
    if meaning is not None and meaning.code.gtin and meaning.product is None and product is None:
        product = ProductForm(initial={"gtin": meaning.code.gtin})
    # A page that reads only: what it was asked for is no form that came back.
    return page(
        request,
        "scanning/scan.html",
        room="scan",
        scan_form=form,
        product_form=product if may(request.user, "work_cellar") else None,
        also=product,
        meaning=meaning,
    )


@never_cache
@require_safe
def scan(request: Request) -> HttpResponse:
    """Where a code leads: to the page of a label, or to what a package is."""
    if "text" not in request.GET:
        return _shown(request, ScanForm(), meaning=None)
    form = ScanForm(request.GET)
    meaning = None
    if form.is_valid():
        text = form.cleaned_data["text"]
        if (place := place_of(text)) is not None:
            return redirect(place.address)
        try:
            meaning = meaning_of(text, day=brewery_day(timezone.now(), request.brewery))
        except Unreadable as error:
            form.add_error("text", UNKNOWN + error.words)
    return _shown(request, form, meaning=meaning)


@never_cache
@require_safe
def read(request: Request) -> HttpResponse:
    """What a page's script hands over: where to go, or what to fill in."""
    text, expected = request.GET.get("text", ""), request.GET.get("for", "")
    # Where a lot is asked for, a short text is a lot, even one that a vessel is called.
    if (place := place_of(text, addresses_only=expected in EXPECTED)) is not None:
        return JsonResponse({"go": place.address, "name": place.name})
    if expected not in EXPECTED:
        return JsonResponse({"go": f"{reverse('scanning:scan')}?{urlencode({'text': text})}"})
    try:
        meaning = lot_of(text, day=brewery_day(timezone.now(), request.brewery))
    except Unreadable as error:
        return JsonResponse({"error": error.words})
    number = request.GET.get("agent", "")
    agent = Agent.objects.filter(pk=number).first() if is_number(number) else None
    known = answer(
        meaning,
        expected=expected,
        agent=agent,
        may_remember=may(request.user, "work_cellar"),
    )
    return JsonResponse(known)


@require_POST
@permission_needed("work_cellar")
def remember(request: Request) -> HttpResponse:
    """A product number that somebody confirmed."""
    form = ProductForm(request.POST)

    def said(product: Product) -> str:
        return f"{product} is recognised by its barcode from now on."

    remembered = submitted(
        request, form, lambda by: remember_product(by=by, **form.given), said=said
    )
    gtin = form.cleaned_data.get("gtin", "")
    if remembered is not None:
        return redirect(f"{reverse('scanning:scan')}?{urlencode({'text': remembered.gtin})}")
    day = brewery_day(timezone.now(), request.brewery)
    meaning = meaning_of(gtin, day=day) if gtin else None
    return _shown(request, ScanForm(initial={"text": gtin}), meaning=meaning, product=form)
