"""Addresses: one include a room."""

from django.conf import settings
from django.contrib import admin
from django.urls import URLPattern, URLResolver, include, path

from brewhygiene import parts_page

urlpatterns: list[URLPattern | URLResolver] = [
    # First, since an old name may look like one that a room answers for.
    path("", include("brewhygiene.moved")),
    path("", include("brewhygiene.board.urls")),
    path("", include("brewhygiene.people.urls")),
    path("", include("brewhygiene.cellar.urls")),
    path("", include("brewhygiene.turnarounds.urls")),
    path("", include("brewhygiene.skids.urls")),
    path("", include("brewhygiene.changeovers.urls")),
    path("", include("brewhygiene.atp.urls")),
    path("", include("brewhygiene.plates.urls")),
    path("", include("brewhygiene.scanning.urls")),
    path("", include("brewhygiene.release.urls")),
    path("", include("brewhygiene.batches.urls")),
    path("", include("brewhygiene.reports.urls")),
    path("", include("brewhygiene.setup.urls")),
    path("ledger/", include("brewhygiene.proof.urls")),
    path("", include("brewhygiene.health.urls")),
    path("", include("brewhygiene.delivery.urls")),
    path("trends/", include("brewhygiene.trends.urls")),
    path("bench/", include("brewhygiene.bench.urls")),
    path("set-up/", include("brewhygiene.brewery.urls")),
    path("set-up/", include("brewhygiene.regimes.urls")),
    path("admin/", admin.site.urls),
]
# What the disk or the database does not let through is said in words.
handler500 = "brewhygiene.health.refused_page.server_error"

if settings.SHOW_PARTS:
    urlpatterns.append(path("parts/", parts_page.parts, name="parts"))
