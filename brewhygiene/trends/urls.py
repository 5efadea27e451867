"""Addresses of the charts."""

from django.urls import path

from brewhygiene.trends.compare import views as compare_views
from brewhygiene.trends.meters import views as meter_views
from brewhygiene.trends.overview import views as overview_views
from brewhygiene.trends.plates import views as plate_views
from brewhygiene.trends.points import views as point_views
from brewhygiene.trends.signals import views as signal_views
from brewhygiene.trends.stated import views as stated_views

app_name = "trends"
urlpatterns = [
    path("", overview_views.overview, name="overview"),
    path("rows/<slug:what>/", overview_views.rows, name="rows"),
    path("meters/<int:pk>/", meter_views.meter, name="meter"),
    path("compare/", compare_views.compare, name="compare"),
    path("compare/rows/", compare_views.compare_rows, name="compare_rows"),
    path("plates/", plate_views.plates, name="plates"),
    path("stated/", stated_views.stated, name="stated"),
    path("signals/", signal_views.signals, name="signals"),
    path("common/", signal_views.common, name="common"),
    path("vessels/<int:pk>/", point_views.vessel, name="vessel"),
    path("points/<int:pk>/", point_views.point, name="point"),
    path("points/<int:pk>/new-phase/", point_views.new_phase, name="new_phase"),
]
