"""Addresses of the bench: an index, and one a calculator; an unknown one is left to others."""

from django.urls import path, re_path

from brewhygiene.bench import views
from brewhygiene.bench.catalogue import BY_SLUG

app_name = "bench"
urlpatterns = [
    path("", views.index, name="index"),
    re_path(rf"^(?P<slug>{'|'.join(BY_SLUG)})/$", views.calculator, name="calculator"),
]
