"""Everyone signs in first; a page that asks for its news by itself goes there as a whole."""

from typing import Any

from django.conf import settings
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponseBase
from django.urls import reverse
from django_htmx.http import HttpResponseClientRedirect
from django_htmx.middleware import HtmxDetails

from brewhygiene.people import tablets


class SignInFirst(LoginRequiredMiddleware):
    """As Django's own, but a known tablet offers names, and no fragment is the sign-in page.

    The session of a wall screen or a tablet may end while its page asks again every few
    seconds. htmx follows a redirect and would put the sign-in page in the fragment's place.
    """

    def handle_no_permission(  # type: ignore[override]
        self, request: HttpRequest, view_func: Any
    ) -> HttpResponseBase:
        way_in = self.get_login_url(view_func)
        if way_in == settings.LOGIN_URL and tablets.offers_names(request):
            way_in = reverse("people:switch")
        asked = HtmxDetails(request)
        if not asked:
            back = self.get_redirect_field_name(view_func)
            return redirect_to_login(request.get_full_path(), way_in, back)
        sign_in = redirect_to_login(asked.current_url_abs_path or "/", way_in)
        return HttpResponseClientRedirect(sign_in.headers["Location"])
