"""Addresses of the charts."""

from django.urls import path

from brewhygiene.trends import meter_views, overview_views, plate_views

app_name = "trends"
urlpatterns = [
    path("", overview_views.overview, name="overview"),
    path("rows/<slug:what>/", overview_views.rows, name="rows"),
    path("meters/<int:pk>/", meter_views.meter, name="meter"),
    path("plates/", plate_views.plates, name="plates"),
]
