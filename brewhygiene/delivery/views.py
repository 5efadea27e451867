"""The page of what waits on this tablet, and what makes an installed app of the pages."""

import hashlib
import json
from functools import cache
from pathlib import Path

from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from brewhygiene.delivery import actions
from brewhygiene.delivery.arrivals import unverified
from brewhygiene.delivery.forms import ConfirmNameForm, SetAsideForm
from brewhygiene.delivery.models import Arrival, SetAside
from brewhygiene.ledger.recording import Actor
from brewhygiene.people.form_pages import page, submitted
from brewhygiene.people.models import User
from brewhygiene.people.permissions import may_any, permission_needed
from brewhygiene.people.queries import people_who_may
from brewhygiene.people.requests import Request, sent
from brewhygiene.people.signing_in.second_signature import SECRET, guard_second
from brewhygiene.styles import STYLES

SHOWN = 30
WORKER = "brewhygiene/outbox/worker.js"
SCRIPTS = (
    "django_htmx/htmx-2.min.js",
    "brewhygiene/floor.js",
    "brewhygiene/hands.js",
    "brewhygiene/live.js",
    "brewhygiene/calls.js",
    "brewhygiene/scan.js",
    "brewhygiene/outbox/store.js",
    "brewhygiene/outbox/sender.js",
    "brewhygiene/outbox/hand.js",
    "brewhygiene/outbox/forms.js",
    "brewhygiene/outbox/waiting.js",
    "brewhygiene/outbox/carry.js",
)
OF_ROOMS = (
    "brewhygiene/floor.css",
    "brewhygiene/board.css",
    "brewhygiene/bench/sums.css",
    "brewhygiene/atp/sampling.css",
    "brewhygiene/setup/people.css",
    "brewhygiene/mark.svg",
    "brewhygiene/shapes.svg",
    "fonts/SourceSansPro-Regular.ttf",
    "fonts/SourceSansPro-Semibold.ttf",
)


@never_cache
@require_safe
def waiting_here(request: Request) -> HttpResponse:
    """What waits on this tablet: the tablet knows, the server does not."""
    kept: list[SetAside] = []
    if may_any(request.user, ("work_cellar", "see_everything")):
        latest = SetAside.objects.select_related("set_aside_by").order_by("-set_aside_at", "-pk")
        kept = list(latest[:SHOWN])
    to_confirm = unverified().filter(person=request.user.pk).count()
    return render(
        request,
        "delivery/waiting_here.html",
        {"room": "", "set_aside": kept, "to_confirm": to_confirm},
    )


@never_cache
@require_safe
@permission_needed("work_cellar")
def stated_name(request: Request) -> HttpResponse:
    """Changing hands without a network: by name alone. The tablet's script does the rest."""
    return page(request, "delivery/stated_name.html", room="", people=people_who_may("work_cellar"))


@never_cache
@permission_needed("work_cellar")
def confirm_names(request: Request) -> HttpResponse:
    """What was recorded in one's name without a PIN, to be confirmed by it."""
    person = request.user
    assert isinstance(person, User)
    waiting = list(unverified().filter(person=person).select_related("delivered_by"))
    form = ConfirmNameForm(sent(request), waiting=waiting)

    def confirm(by: Actor) -> Arrival:
        secret = form.cleaned_data[SECRET]
        guard_second(request, person=person, secret=secret)
        return actions.confirm_name(by=by, arrivals=form.cleaned_data["arrivals"], secret=secret)

    if submitted(request, form, confirm, said="Confirmed as yours.") is not None:
        return redirect("delivery:confirm_names")
    return page(request, "delivery/confirm_names.html", form=form, room="")


@require_POST
@permission_needed("work_cellar")
def set_aside(request: Request) -> HttpResponse:
    """Keep what the server did not take and nobody types again; answered for a script."""
    form = SetAsideForm(request.POST)
    kept = submitted(request, form, lambda by: actions.set_aside(by=by, **form.given))
    if kept is not None:
        return JsonResponse({"kept": kept.pk})
    return JsonResponse({"errors": form.errors}, status=422)


@require_safe
@login_not_required
def manifest(request: Request) -> HttpResponse:
    """The installable app's own facts."""
    name = request.brewery.name
    response = JsonResponse(
        {
            "id": "/",
            "name": name,
            "short_name": name[:12].strip(),
            "start_url": reverse("board:board"),
            "scope": "/",
            "display": "standalone",
            "icons": [
                {
                    "src": static("brewhygiene/mark.svg"),
                    "sizes": "any",
                    "type": "image/svg+xml",
                    "purpose": "any",
                },
                *(
                    {
                        "src": static(f"brewhygiene/icons/mark-{size}.png"),
                        "sizes": f"{size}x{size}",
                        "type": "image/png",
                        "purpose": "any maskable",
                    }
                    for size in (192, 512)
                ),
            ],
        }
    )
    response["Content-Type"] = "application/manifest+json"
    return response


def _text(name: str) -> bytes:
    found = finders.find(name)
    assert isinstance(found, str), name
    return Path(found).read_bytes()


@cache
def _worker() -> str:
    """The worker with what it keeps; another version as soon as one of those files is another."""
    names = (*SCRIPTS, *(f"brewhygiene/{name}.css" for name in STYLES), *OF_ROOMS)
    whole = hashlib.sha256(b"\0".join(_text(name) for name in (WORKER, *names)))
    files = json.dumps([static(name) for name in names])
    head = f'const VERSION = "{whole.hexdigest()[:16]}";\nconst FILES = {files};\n'
    return head + _text(WORKER).decode()


@require_safe
@login_not_required
def worker(request: Request) -> HttpResponse:
    """The service worker, at the root, so that it may answer for every page."""
    response = HttpResponse(_worker(), content_type="text/javascript; charset=utf-8")
    response["Service-Worker-Allowed"] = "/"
    return response
