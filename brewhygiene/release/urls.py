from django.urls import path

from brewhygiene.release import views
from brewhygiene.release.powers import views as power_views

app_name = "release"
urlpatterns = [
    path("release/", views.queue, name="queue"),
    path("release/<int:turnaround_pk>/", views.decide, name="decide"),
    path(
        "release/<int:turnaround_pk>/without-meter/",
        power_views.without_meter,
        name="without_meter",
    ),
    path("turnarounds/<int:pk>/re-sanitise/", views.resanitise, name="resanitise"),
    path("turnarounds/<int:pk>/sanitise/", views.sanitise, name="sanitise"),
    path("turnarounds/<int:pk>/fill/", views.fill, name="fill"),
    path(
        "turnarounds/<int:pk>/fill-without-release/",
        views.fill_without_release,
        name="fill_without_release",
    ),
]
