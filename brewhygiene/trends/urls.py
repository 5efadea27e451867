"""Addresses of the charts."""

from django.urls import path

from brewhygiene.trends import plate_views

app_name = "trends"
urlpatterns = [
    path("plates/", plate_views.plates, name="plates"),
]
