"""Everyone signs in first; a page that asks for its news by itself goes there as a whole."""

from typing import Any

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponseBase
from django_htmx.http import HttpResponseClientRedirect
from django_htmx.middleware import HtmxDetails


class SignInFirst(LoginRequiredMiddleware):
    """As Django's own, except that the answer to a fragment is never the sign-in page.

    The session of a wall screen or a tablet may end while its page asks again every few
    seconds. htmx follows a redirect and would put the sign-in page in the fragment's place.
    """

    def handle_no_permission(  # type: ignore[override]
        self, request: HttpRequest, view_func: Any
    ) -> HttpResponseBase:
        asked = HtmxDetails(request)
        if not asked:
            return super().handle_no_permission(request, view_func)
        sign_in = redirect_to_login(
            asked.current_url_abs_path or "/", self.get_login_url(view_func)
        )
        return HttpResponseClientRedirect(sign_in.headers["Location"])
