"""How a tablet comes to trust this installation: read before anybody signs in, over plain HTTP."""

from cryptography.hazmat.primitives.serialization import Encoding
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe

from brewhygiene.certificates.addresses import plain_address
from brewhygiene.certificates.making import fingerprint
from brewhygiene.certificates.serving import https


@require_safe
@login_not_required
def trust(request: HttpRequest) -> HttpResponse:
    """Three steps for each kind of device, the authority to load, its code and fingerprint."""
    shown = https.shown
    authority = shown.authority if shown is not None else None
    address = plain_address().rstrip("/") + reverse("health:authority")
    return render(
        request,
        "health/trust.html",
        {
            "room": "setup",
            "authority": authority,
            "fingerprint": fingerprint(authority) if authority is not None else "",
            "address": address,
            "code": _code(address) if authority is not None else "",
            "is_site_certificate": shown is not None and authority is None,
            "is_behind_proxy": settings.BEHIND_PROXY,
            "is_over_https": request.is_secure(),
        },
    )


@require_safe
@login_not_required
def authority(request: HttpRequest) -> HttpResponse:
    """The authority's certificate, as devices install it. It is public."""
    shown = https.shown
    if shown is None or shown.authority is None:
        raise Http404("This installation has no authority of its own.")
    return HttpResponse(
        shown.authority.public_bytes(Encoding.DER),
        content_type="application/x-x509-ca-cert",
        headers={"Content-Disposition": 'attachment; filename="brewhygiene.crt"'},
    )


@require_safe
@login_not_required
def reached(request: HttpRequest) -> HttpResponse:
    """Nothing, to whoever asks: that it came over HTTPS is the answer.

    Any page may read that, since there is nothing in it and no cookie is looked at.
    """
    return HttpResponse(headers={"Access-Control-Allow-Origin": "*"})


def _code(address: str) -> SafeString:
    import segno  # only when this page is asked for

    drawn = segno.make(address, error="m", micro=False, boost_error=False)
    svg = drawn.svg_inline(border=4, omitsize=True, svgclass="qr", lineclass=None, light="#fff")
    return mark_safe(svg)  # noqa: S308 - drawn by ourselves: no character of the address is in it
