"""The state of the installation: a page for people, a word for machines."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from brewhygiene.health.checks import health_lines, is_well
from brewhygiene.people.permissions import permission_needed


@require_safe
@permission_needed("see_everything")
def health(request: HttpRequest) -> HttpResponse:
    """Database, disk, backups, clock and version, for the head brewer and the owner."""
    lines = health_lines(timezone.now())
    return render(request, "health/health.html", {"room": "setup", "lines": lines})


@require_safe
@login_not_required
def healthz(request: HttpRequest) -> HttpResponse:
    """``ok`` with 200, or ``fault`` with 503, and nothing else."""
    well = is_well()
    return HttpResponse(
        "ok\n" if well else "fault\n", content_type="text/plain", status=200 if well else 503
    )
