"""Addresses of the charts."""

from django.urls import path

from brewhygiene.trends import meter_views, plate_views

app_name = "trends"
urlpatterns = [
    path("meters/<int:pk>/", meter_views.meter, name="meter"),
    path("plates/", plate_views.plates, name="plates"),
]
