"""Addresses of the charts."""

from django.urls import path

from brewhygiene.trends import (
    meter_views,
    overview_views,
    plate_views,
    point_views,
    signal_views,
    which_views,
)

app_name = "trends"
urlpatterns = [
    path("", overview_views.overview, name="overview"),
    path("rows/<slug:what>/", overview_views.rows, name="rows"),
    path("meters/<int:pk>/", meter_views.meter, name="meter"),
    path("which/", which_views.which, name="which"),
    path("which/rows/", which_views.which_rows, name="which_rows"),
    path("plates/", plate_views.plates, name="plates"),
    path("signals/", signal_views.signals, name="signals"),
    path("common/", signal_views.common, name="common"),
    path("vessels/<int:pk>/", point_views.vessel, name="vessel"),
    path("points/<int:pk>/", point_views.point, name="point"),
    path("points/<int:pk>/begin-anew/", point_views.begin_anew, name="rephase"),
]
